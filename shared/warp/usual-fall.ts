import type { Decibels, Seconds } from '../math/units.ts';

/** Bins on each side over which falls are taken together: a share of the frequency, and so many at least. */
const around = { share: 0.15, least: 4 };
/** Power (share of the largest) from which a fall counts: what is softer is noise. */
const audible = 1e-5;
/** Falls (dB a second) that are believed: beats rise and fall faster. */
const slowest = -10;
const fastest = 60;
/** Longest time (s) that one fall counts for, and what the usual one counts for while little is known. */
const longest: Seconds = 1;
const unknown: Seconds = 2;
/** How much of what was heard counts still after each new piece: half after some 34. */
const kept = 0.98;

/**
 * How fast sound usually falls, by frequency: the mean of what was measured so far between attacks, over a
 * third of an octave and the last dozens of pieces. One fall says little, since notes and strings beat;
 * an instrument's notes of like pitch fall alike.
 */
export class UsualFall {
  /** At each bin, dB a second, 0 or more. */
  readonly rates: Float64Array;
  private readonly falls: Float64Array;
  private readonly times: Float64Array;

  constructor(bins: number) {
    this.rates = new Float64Array(bins);
    this.falls = new Float64Array(bins);
    this.times = new Float64Array(bins);
  }

  /** Takes down by how much each bin fell from one power to another in `seconds`. */
  take(from: Float64Array, to: Float64Array, seconds: Seconds): void {
    const { falls, times } = this;
    let top = 0;
    for (let k = 0; k < to.length; k++) top = Math.max(top, from[k], to[k]);
    const time = Math.min(longest, seconds);
    for (let k = 0; k < to.length; k++) {
      falls[k] *= kept;
      times[k] *= kept;
      if (from[k] <= top * audible || to[k] <= top * audible) continue;
      const rate: Decibels = (10 * Math.log10(from[k] / to[k])) / seconds;
      falls[k] += Math.max(slowest, Math.min(fastest, rate)) * time;
      times[k] += time;
    }
    this.smooth();
  }

  private smooth(): void {
    const { rates, falls, times } = this;
    const bins = rates.length;
    let low = 0;
    let high = 0;
    let fall = 0;
    let time = 0;
    for (let k = 0; k < bins; k++) {
      const reach = Math.max(around.least, Math.round(k * around.share));
      for (; high < Math.min(bins, k + reach + 1); high++) {
        fall += falls[high];
        time += times[high];
      }
      for (; low < k - reach; low++) {
        fall -= falls[low];
        time -= times[low];
      }
      rates[k] = Math.max(0, fall / (time + unknown));
    }
  }
}
