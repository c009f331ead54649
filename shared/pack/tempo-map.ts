import type { Beat, Phrase } from '../hear/heard.ts';
import { median } from '../math/median.ts';
import type { Seconds } from '../math/units.ts';
import {
  type MidiEvent,
  marker,
  note,
  tempo,
  ticksPerQuarter,
  timeSignature,
  trackName,
  writeMidiFile,
} from './midi-file.ts';

/** What the tempo map writes down. */
export interface TempoMapInput {
  readonly name: string;
  readonly beats: readonly Beat[];
  readonly phrases: readonly Phrase[];
  readonly seconds: Seconds;
}

/** A stretch of one tempo: it starts at `time` and `tick`, and lasts `ticks` and `microseconds`. */
interface Step {
  readonly time: Seconds;
  readonly tick: number;
  readonly ticks: number;
  /** A quarter's length. */
  readonly quarter: number;
}

/** General MIDI's high and low wood block, on the drums' channel (common practice, no source). */
const drums = 9;
const highBlock = 76;
const lowBlock = 77;
/** The longest quarter that the format can store. */
const slowest = 0xffffff;

/**
 * The take's time as a Standard MIDI File: set it at 0 beside the take, and bars and beats follow the
 * players. Each interval between beats has a tempo of its own, a quarter a beat. Lengths are rounded on
 * the running time, never one by one, so that no beat is further than 1 us from where it was heard (0.2 ms
 * after a filled pause), however long the take. What comes before the first beat is a short bar of its own; a pause longer than the
 * format's slowest quarter (16.7 s) is filled with beats. Phrases are markers, beats also notes.
 *
 * Without beats the map is one tempo of 120 with a quarter for each half second.
 */
export function writeTempoMap({ name, beats, phrases, seconds }: TempoMapInput): Uint8Array {
  const steps: Step[] = [];
  const signatures: MidiEvent[] = [];
  let tick = 0;
  // Time written so far, in whole microseconds of whole steps: what is left to round never adds up.
  let written = 0;
  const advance = (until: Seconds, ticks: number) => {
    const microseconds = until * 1e6 - written;
    const quarter = Math.min(
      Math.max(Math.round((microseconds * ticksPerQuarter) / ticks), 1),
      slowest,
    );
    steps.push({ time: written / 1e6, tick, ticks, quarter });
    written += (quarter * ticks) / ticksPerQuarter;
    tick += ticks;
  };

  const usual =
    beats.length > 1 ? median(beats.slice(1).map((beat, i) => beat.time - beats[i].time)) : 0.5;
  if (beats.length > 0 && beats[0].time > 1e-6) {
    const { count, unit } = leadBar(beats[0].time, usual);
    signatures.push(timeSignature(0, count, unit));
    advance(beats[0].time, (count * 4 * ticksPerQuarter) / unit);
  }
  const ticks: number[] = [];
  const bars = barLengths(beats);
  let last = 0;
  beats.forEach((beat, i) => {
    ticks.push(tick);
    const bar = bars.get(i);
    if (bar !== undefined && bar !== last) {
      signatures.push(timeSignature(tick, bar, 4));
      last = bar;
    }
    const next = beats[i + 1];
    if (!next) return;
    const gap = next.time - beat.time;
    if (gap * 1e6 < slowest) {
      advance(next.time, ticksPerQuarter);
      return;
    }
    const filling = Math.min(
      Math.max(Math.round(gap / usual), Math.ceil((gap * 1e6) / slowest)),
      255,
    );
    signatures.push(timeSignature(tick, filling, 4));
    last = 0;
    advance(next.time, filling * ticksPerQuarter);
  });

  const ending = Math.max(seconds - written / 1e6, 0);
  const tail = steps.at(-1)?.quarter ?? 500000;
  const end = tick + Math.max(1, Math.round((ending * 1e6 * ticksPerQuarter) / tail));
  const tickOf = (time: Seconds) => {
    const step = steps.findLast((s) => s.time <= time + 1e-9);
    const quarter = step === steps.at(-1) || !step ? tail : step.quarter;
    const from = step ?? { time: 0, tick: 0 };
    const past = ((time - from.time) * 1e6 * ticksPerQuarter) / quarter;
    return Math.min(Math.max(Math.round(from.tick + past), 0), end);
  };
  const tempos = steps.filter((step, i) => step.quarter !== steps[i - 1]?.quarter);
  const conductor: MidiEvent[] = [
    trackName(name),
    ...(signatures.length > 0 ? signatures : [timeSignature(0, 4, 4)]),
    ...(tempos.length > 0 ? tempos.map((s) => tempo(s.tick, s.quarter)) : [tempo(0, 500000)]),
    ...phrases.map((phrase, i) => marker(tickOf(phrase.start), `Phrase ${i + 1}`)),
  ];
  const clicks = beats.flatMap((beat, i) =>
    beat.count === 1
      ? note(ticks[i], ticksPerQuarter / 8, drums, highBlock, 112)
      : note(ticks[i], ticksPerQuarter / 8, drums, lowBlock, 80),
  );
  return writeMidiFile([conductor, [trackName('Beats'), ...clicks]], end);
}

/** A bar for what sounds before the first beat: in sixteenths near the take's tempo, finer when it is short. */
function leadBar(time: Seconds, usual: Seconds): { count: number; unit: number } {
  const unit = time >= usual / 4 ? 16 : 64;
  const step = (usual * 4) / unit;
  const count = Math.round(time / step);
  // A signature holds one byte of beats; a lead of over a minute is counted in wholes instead.
  if (count > 255)
    return { count: Math.min(Math.max(Math.round(time / (usual * 4)), 1), 255), unit: 1 };
  return { count: Math.max(count, 1), unit };
}

/** By the index of the beat that starts a bar: how many beats it holds. The last bar is at least like the one before. */
function barLengths(beats: readonly Beat[]): Map<number, number> {
  const starts = beats.flatMap((beat, i) => (beat.count === 1 || i === 0 ? [i] : []));
  const lengths = new Map<number, number>();
  starts.forEach((start, k) => {
    const next = starts[k + 1];
    const before =
      k > 1 || (k === 1 && beats[0].count === 1) ? lengths.get(starts[k - 1]) : undefined;
    const counted = Math.max(...beats.slice(start).map((beat) => beat.count));
    const length = next !== undefined ? next - start : Math.max(before ?? 0, counted);
    lengths.set(start, Math.min(Math.max(length, 1), 255));
  });
  return lengths;
}
