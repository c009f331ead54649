import type { Pad } from '../cut/pad.ts';
import type { NamedSlice } from '../cut/slice.ts';
import type { Lane, Placement } from '../loop/lane.ts';
import { beatsOf } from '../loop/length.ts';
import type { LaneLanding } from '../loop/material.ts';
import { soundingOf, untilNext } from '../loop/sounding.ts';
import type { Decibels, Seconds } from '../math/units.ts';
import {
  type MidiEvent,
  note,
  tempo,
  ticksPerQuarter,
  timeSignature,
  trackName,
  writeMidiFile,
} from './midi-file.ts';

/** Slices without a learnt note follow each other from C2 on. */
const firstNote = 36;
/** Later by no more than this, a landing is not heard to be late. */
const unheard: Seconds = 0.005;
/** Two moments this close are one attack. */
const near: Seconds = 0.06;

/**
 * The note that plays each slice: its pad's where one was learnt, then the free notes from 36 up, the
 * slices that lanes play first, till 127 is reached. One note plays one slice.
 */
export function sliceNotes(
  slices: readonly NamedSlice[],
  pads: readonly Pad[],
  lanes: readonly Lane[],
): Map<string, number> {
  const notes = new Map<string, number>();
  const taken = new Set<number>();
  for (const pad of pads) {
    if (pad.note === null || notes.has(pad.slice) || taken.has(pad.note)) continue;
    notes.set(pad.slice, pad.note);
    taken.add(pad.note);
  }
  const isPlayed = ({ id, landing }: NamedSlice) =>
    lanes.some(({ source }) =>
      source.kind === 'flip'
        ? source.placements.some((placement) => placement.slice === id)
        : landing > source.from - near && landing < source.until - near,
    );
  const waiting = [...slices.filter(isPlayed), ...slices.filter((slice) => !isPlayed(slice))];
  let next = firstNote;
  for (const { id } of waiting) {
    if (notes.has(id)) continue;
    while (taken.has(next)) next++;
    if (next > 127) break;
    notes.set(id, next);
    taken.add(next);
  }
  return notes;
}

/** 100 as it was; louder and softer by General MIDI's curve, 40 log10 (from memory). */
function velocityOf(level: Decibels): number {
  return Math.min(Math.max(Math.round(100 * 10 ** (level / 40)), 1), 127);
}

interface Hit {
  readonly slice: NamedSlice;
  /** Where its landing stands. */
  readonly at: Seconds;
  readonly length: Seconds;
  readonly level: Decibels;
}

/**
 * A lane as a MIDI file that plays the slices' files by their notes, at the lane's fixed tempo: a note starts
 * its slice's lead-in early, so that the landing stands where the lane has it. Before the start it goes
 * round to the end, as it does in the loop's sound: at the start it would land late in every round, and a file that begins
 * earlier would be no loop any more. So it is missing in the first round, which the pack says (`leadRound`). It lasts as long as the slice sounds, or until its key is struck again. Pitch, direction and
 * warp are the lane's own and can't be told in notes.
 */
export function writeLaneMidi(
  lane: Lane,
  slices: readonly NamedSlice[],
  landings: readonly LaneLanding[],
  notes: ReadonlyMap<string, number>,
): Uint8Array {
  // A beat of the lane is the note that its metre counts; MIDI's tempo counts quarters.
  const beatTicks = (ticksPerQuarter * 4) / lane.beatUnit;
  const end = beatsOf(lane) * beatTicks;
  const tickOf = (time: Seconds) => Math.round((time * lane.bpm * beatTicks) / 60);
  const strokes = hitsOf(lane, slices, landings)
    .flatMap(({ slice, at, length, level }) => {
      const key = notes.get(slice.id);
      if (key === undefined) return [];
      const lead = slice.landing - slice.start;
      // At the lane's start hardly any lead-in is rather late than cut off by the file's end.
      const start = at < lead && lead - at <= unheard ? 0 : tickOf(at - lead);
      const from = ((start % end) + end) % end;
      return [{ key, from, until: from + tickOf(lead + length), level }];
    })
    .sort((a, b) => a.from - b.from);
  // A key that is struck again while it is down would be let go by the first stroke's end.
  const events = strokes.flatMap(({ key, from, until, level }, i): MidiEvent[] => {
    const again = strokes.slice(i + 1).find((one) => one.key === key && one.from > from);
    const last = Math.min(until, again?.from ?? end, end);
    return note(from, Math.max(last - from, 1), 0, key, velocityOf(level));
  });
  const conductor = [
    trackName(lane.name),
    timeSignature(0, lane.beatsPerBar, lane.beatUnit),
    tempo(0, Math.round((6e7 / lane.bpm) * (lane.beatUnit / 4))),
  ];
  return writeMidiFile([conductor, [trackName(`${lane.name}, slices`), ...events]], end);
}

/** The longest lead-in before the start of a lane's MIDI file, which goes round to its end; 0 where none does. */
export function leadRound(
  lane: Lane,
  slices: readonly NamedSlice[],
  landings: readonly LaneLanding[],
): Seconds {
  const early = hitsOf(lane, slices, landings).map(
    ({ slice, at }) => slice.landing - slice.start - at,
  );
  const most = Math.max(0, ...early);
  return most > unheard ? most : 0;
}

function hitsOf(
  lane: Lane,
  slices: readonly NamedSlice[],
  landings: readonly LaneLanding[],
): Hit[] {
  return lane.source.kind === 'flip'
    ? placed(lane, lane.source.placements, slices)
    : played(slices, landings);
}

function placed(
  lane: Lane,
  placements: readonly Placement[],
  slices: readonly NamedSlice[],
): Hit[] {
  const beat = 60 / lane.bpm;
  const known = new Map(slices.map((slice) => [slice.id, slice]));
  const sounding = soundingOf(placements, lane, known);
  return sounding.flatMap((placement): Hit[] => {
    const slice = known.get(placement.slice);
    if (!slice) return [];
    const { at, length, level, rings } = placement;
    const most = rings === 'next' ? untilNext(placement, sounding, beatsOf(lane)) : Infinity;
    const whole = slice.end - slice.landing;
    return [
      {
        slice,
        at: at * beat,
        length: Math.min(whole, (length ?? most) * beat, most * beat),
        level,
      },
    ];
  });
}

/** The slices that a straight stretch passes: those that land where one of its attacks does. */
function played(slices: readonly NamedSlice[], landings: readonly LaneLanding[]): Hit[] {
  return slices.flatMap((slice) => {
    const landing = landings.find((l) => Math.abs(l.source - slice.landing) < near);
    return landing ? [{ slice, at: landing.at, length: slice.end - slice.landing, level: 0 }] : [];
  });
}
