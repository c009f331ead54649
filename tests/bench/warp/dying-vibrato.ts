import type { Cents, Hertz, Seconds } from '../../../shared/math/units.ts';
import type { Audio } from '../../../shared/take/audio.ts';
import { rate, trackTone } from './probes.ts';

/** A lone note with vibrato that dies away. */
export interface DyingNote {
  readonly hertz: Hertz;
  /** Of the vibrato, up and down. */
  readonly cents: Cents;
  readonly swing: Hertz;
  /** In which the note falls by 60 dB. */
  readonly fall: Seconds;
  /** In which it is there: 10 ms is struck, 80 ms bowed. */
  readonly rise: Seconds;
  readonly partials: number;
}

const lead: Seconds = 0.3;
const long: Seconds = 2.2;

/** The note, after and before some silence; `ratio` times as long it is what a perfect warp makes of it. */
export function dyingNote(note: DyingNote, ratio = 1): Audio {
  const turn = (2 * Math.PI * note.swing) / ratio;
  const depth = (note.hertz * note.cents * Math.LN2) / 1200;
  const samples = Float32Array.from(
    { length: Math.round((long + 2 * lead) * ratio * rate) },
    (_, i) => {
      const late = i / rate - lead * ratio;
      const at = late / ratio;
      if (at < 0 || at > long) return 0;
      const phase = note.hertz * late - (depth / turn) * Math.cos(turn * late);
      const level = 10 ** ((-3 * at) / note.fall) * Math.min(1, at / note.rise, (long - at) / 0.05);
      let sum = 0;
      for (let h = 1; h <= note.partials; h++) sum += Math.sin(2 * Math.PI * h * phase) / h;
      return 0.3 * level * sum;
    },
  );
  return { sampleRate: rate, channels: [samples] };
}

export interface VibratoFaults {
  /** Rate and depth over those of the ideal, less 1. */
  readonly rate: number;
  readonly depth: number;
  /** Longest time (ms) that pitch moves by less than a third of what vibrato moves in its fastest 10 ms, over what the ideal has. */
  readonly still: number;
}

/** What an even warp by `ratio` made of a note's vibrato, beside the ideal looked at in the same way. */
export function vibratoFaults(result: Float32Array, note: DyingNote, ratio: number): VibratoFaults {
  const swing = note.swing / ratio;
  const least = 0.35 * note.cents * 2 * Math.PI * swing * 0.01;
  const look = (samples: Float32Array) => {
    const part = trackTone(samples, note.hertz / 1.4, note.hertz * 1.4).frequency.filter(
      ({ time }) => {
        const at = time / ratio - lead;
        return at > 0.15 && at < Math.min(long - 0.2, 0.9 * note.fall);
      },
    );
    const pitch = part.map(({ hertz }) => 1200 * Math.log2(hertz / note.hertz));
    const times = part.map(({ time }) => time);
    return { ...strongestSwing(pitch, times, swing), still: stillest(pitch, least) };
  };
  const found = look(result);
  const ideal = look(dyingNote(note, ratio).channels[0]);
  return {
    rate: found.hertz / ideal.hertz - 1,
    depth: found.cents / ideal.cents - 1,
    still: found.still - ideal.still,
  };
}

/** At which rate, from half to twice `about`, pitch swings most, and how far. */
function strongestSwing(
  pitch: readonly Cents[],
  times: readonly Seconds[],
  about: Hertz,
): { hertz: Hertz; cents: Cents } {
  const mean = pitch.reduce((s, c) => s + c, 0) / pitch.length;
  let strongest = { hertz: 0, cents: 0 };
  for (let hertz = about / 2; hertz < 2 * about; hertz += about / 200) {
    let re = 0;
    let im = 0;
    let weight = 0;
    times.forEach((time, n) => {
      const w = Math.sin((Math.PI * (n + 0.5)) / times.length) ** 2;
      re += w * (pitch[n] - mean) * Math.cos(2 * Math.PI * hertz * time);
      im += w * (pitch[n] - mean) * Math.sin(2 * Math.PI * hertz * time);
      weight += w;
    });
    const cents = (2 * Math.hypot(re, im)) / weight;
    if (cents > strongest.cents) strongest = { hertz, cents };
  }
  return strongest;
}

/** Longest time (ms) that pitch moves by less than `least` cents in 10 ms, every 5 ms. */
function stillest(pitch: readonly Cents[], least: Cents): number {
  let still = 0;
  let longest = 0;
  for (let i = 2; i < pitch.length; i++) {
    still = Math.abs(pitch[i] - pitch[i - 2]) < least ? still + 5 : 0;
    longest = Math.max(longest, still);
  }
  return longest;
}

/** Ratio by ratio, every note of a grid: fundamentals, depths, rates, falls. */
export const dyingGrid: readonly DyingNote[] = [110, 220, 440, 880].flatMap((hertz) =>
  [10, 20, 40, 60].flatMap((cents) =>
    [4, 5.5, 7].flatMap((swing, s) =>
      [1, 2.5, 6].map((fall, f) => ({
        hertz,
        cents,
        swing,
        fall,
        rise: (s + f) % 2 ? 0.01 : 0.08,
        partials: f === 1 ? 4 : 1,
      })),
    ),
  ),
);
