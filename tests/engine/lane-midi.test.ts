import { parseMidi } from 'midi-file';
import { describe, expect, test } from 'vitest';
import type { NamedSlice } from '../../shared/cut/slice.ts';
import type { Lane, Placement } from '../../shared/loop/lane.ts';
import { leadRound, sliceNotes, writeLaneMidi } from '../../shared/pack/lane-midi.ts';
import { plainPlacement } from '../../src/store/placement-commands.ts';

const slices: NamedSlice[] = ['a', 'b'].map((id, i) => ({
  id,
  start: 2 * i + 1,
  landing: 2 * i + 1.05,
  end: 2 * i + 2.5,
  by: 'heard',
}));

/** Two bars of four at 60: a beat is a second. */
function laneOf(placements: readonly (Partial<Placement> & { at: number })[]): Lane {
  return {
    id: 'l',
    name: 'flip',
    bars: 2,
    beatsPerBar: 4,
    beatUnit: 4,
    bpm: 60,
    steady: 100,
    tighten: 0,
    grid: '16',
    swing: 50,
    source: {
      kind: 'flip',
      placements: placements.map((one, i) => ({
        ...plainPlacement,
        id: `p${i}`,
        slice: 'a',
        ...one,
      })),
    },
  };
}

/** The notes of a lane's file as a player hears them: which slice, from and until which beat. */
function strokes(lane: Lane, from: readonly NamedSlice[] = slices): [string, number, number][] {
  const notes = sliceNotes(from, [], [lane]);
  const midi = parseMidi(writeLaneMidi(lane, from, [], notes));
  const ppq = midi.header.ticksPerBeat ?? 1;
  const heard: [string, number, number][] = [];
  const down = new Map<number, [string, number, number]>();
  let tick = 0;
  for (const event of midi.tracks[1]) {
    tick += event.deltaTime;
    const beat = Math.round((tick / ppq) * 100) / 100;
    if (event.type === 'noteOn') {
      expect(down.has(event.noteNumber)).toBe(false);
      const id = [...notes].find(([, note]) => note === event.noteNumber)?.[0] ?? '';
      const stroke: [string, number, number] = [id, beat, Number.NaN];
      down.set(event.noteNumber, stroke);
      heard.push(stroke);
    } else if (event.type === 'noteOff') {
      const stroke = down.get(event.noteNumber);
      if (stroke) stroke[2] = beat;
      down.delete(event.noteNumber);
    }
  }
  return heard;
}

describe("the notes of a lane's MIDI file", () => {
  test('last until the next landing where the placement does, else as long as the slice', () => {
    const lane = laneOf([
      { at: 1 },
      { at: 2, slice: 'b', rings: 'out' },
      { at: 2.5, rings: 'out', length: 0.25 },
    ]);
    expect(strokes(lane)).toEqual([
      ['a', 0.95, 2],
      ['b', 1.95, 3.45],
      ['a', 2.45, 2.75],
    ]);
  });

  test('let their key go before it is struck again', () => {
    const lane = laneOf([
      { at: 1, rings: 'out' },
      { at: 1.5, rings: 'out' },
    ]);
    expect(strokes(lane)).toEqual([
      ['a', 0.95, 1.45],
      ['a', 1.45, 2.95],
    ]);
  });

  test('are none for placements past the end of a lane that was made shorter', () => {
    expect(strokes(laneOf([{ at: 1 }, { at: 9, slice: 'b' }]))).toEqual([['a', 0.95, 2.45]]);
  });

  test('begin with the lane where hardly anything leads in, else before its end', () => {
    const short = slices.map((slice) => ({ ...slice, start: slice.landing - 0.001 }));
    expect(strokes(laneOf([{ at: 0 }]), short)).toEqual([['a', 0, 1.45]]);
    expect(strokes(laneOf([{ at: 0 }]))).toEqual([['a', 7.95, 8]]);
    expect(leadRound(laneOf([{ at: 0 }, { at: 2 }]), slices, [])).toBeCloseTo(0.05);
    expect(leadRound(laneOf([{ at: 0 }]), short, [])).toBe(0);
    expect(leadRound(laneOf([{ at: 1 }]), slices, [])).toBe(0);
  });
});

test('the slices that a lane plays have notes first, however late in a long take', () => {
  const many = Array.from(
    { length: 300 },
    (_, i): NamedSlice => ({ id: `s${i}`, start: i, landing: i + 0.05, end: i + 1, by: 'heard' }),
  );
  const flip = laneOf([{ at: 0, slice: 's220' }]);
  const straight: Lane = { ...flip, source: { kind: 'straight', from: 290.05, until: 294.05 } };
  const notes = sliceNotes(many, [], [flip, straight]);
  expect(['s220', 's290', 's291', 's292', 's293'].map((id) => notes.get(id))).toEqual([
    36, 37, 38, 39, 40,
  ]);
  expect(notes.get('s294')).toBeUndefined();
});
