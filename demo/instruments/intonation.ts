import type { Hertz, Samples, Share } from '../../shared/math/units.ts';
import { measurePitch } from './pitch.ts';
import { pressureOf, Reed } from './reed.ts';

const levels: readonly Share[] = [0.08, 0.3, 0.5, 0.75, 1];
const pitches: readonly Hertz[] = [185, 247, 330, 440, 587, 784];

/**
 * How long the bore must be for a pitch: reed and bell pull it away from half a period, the more
 * the softer or louder it is blown. A few notes are blown in trial at a few levels and corrected
 * until they sound in tune; what lies between is taken from its neighbours.
 */
export class Intonation {
  /** By how much the bore is shorter than half a period, by pitch, then level. */
  private readonly shorter: readonly (readonly Samples[])[];

  constructor(private readonly rate: Hertz) {
    this.shorter = pitches.map((pitch) => levels.map((level) => this.trial(pitch, level)));
  }

  /** Length of the bore, there and back. */
  lengthFor(pitch: Hertz, level: Share): Samples {
    const row = between(pitches, pitch);
    const column = between(levels, level);
    const at = (r: number) =>
      this.shorter[r][column.index] * (1 - column.share) +
      this.shorter[r][column.index + 1] * column.share;
    const shorter = at(row.index) * (1 - row.share) + at(row.index + 1) * row.share;
    return this.rate / pitch / 2 - shorter;
  }

  private trial(pitch: Hertz, level: Share): Samples {
    const half = this.rate / pitch / 2;
    let length = half - 5;
    for (let round = 0; round < 3; round++) {
      const reed = new Reed(this.rate);
      reed.setPitch(length, false);
      const out = new Float64Array(Math.round(0.24 * this.rate));
      // Blown hard at first, so that it speaks at once.
      for (let n = 0; n < out.length; n++) {
        const kick = Math.max(0, 0.8 - level) * Math.exp(-n / (0.02 * this.rate));
        out[n] = reed.step(pressureOf(level + kick) * Math.min(1, n / 500));
      }
      const heard = measurePitch(out.subarray(out.length >> 1), pitch, this.rate);
      length += half * (heard / pitch - 1);
    }
    return half - length;
  }
}

/** The step of a rising list that a value lies in, and how far along it. */
function between(list: readonly number[], value: number): { index: number; share: number } {
  let index = 0;
  while (index < list.length - 2 && value > list[index + 1]) index++;
  const share = (value - list[index]) / (list[index + 1] - list[index]);
  return { index, share: Math.min(1, Math.max(0, share)) };
}
