import { decibelsOf } from '../../math/decibels.ts';
import { Place } from '../../math/kernel-places.ts';
import type { Decibels, Seconds } from '../../math/units.ts';

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
  private readonly sums: PlainSums | PlacedSums;

  /** @param plain for the plain form, whatever the machine has; the other gives the same to the last bit */
  constructor(bins: number, plain = false) {
    this.sums = (plain ? null : PlacedSums.take(bins)) ?? new PlainSums(bins);
  }

  /** At each bin, dB a second, 0 or more; asked for anew after each `take`. */
  get rates(): Float64Array {
    return this.sums.rates;
  }

  /** Takes down by how much each bin fell from one power to another in `seconds`. */
  take(from: Float64Array, to: Float64Array, seconds: Seconds): void {
    this.sums.take(from, to, seconds, Math.min(longest, seconds));
  }

  /** Leaves its memory to others. */
  leave(): void {
    this.sums.leave();
  }
}

/** Over how many bins on each side falls are taken together. */
const reachAt = (bin: number): number => Math.max(around.least, Math.round(bin * around.share));

class PlainSums {
  readonly rates: Float64Array;
  private readonly falls: Float64Array;
  private readonly times: Float64Array;

  constructor(bins: number) {
    this.rates = new Float64Array(bins);
    this.falls = new Float64Array(bins);
    this.times = new Float64Array(bins);
  }

  leave(): void {}

  take(from: Float64Array, to: Float64Array, seconds: Seconds, time: Seconds): void {
    const { falls, times } = this;
    let top = 0;
    for (let k = 0; k < to.length; k++) top = Math.max(top, from[k], to[k]);
    for (let k = 0; k < to.length; k++) {
      falls[k] *= kept;
      times[k] *= kept;
      if (from[k] <= top * audible || to[k] <= top * audible) continue;
      const rate: Decibels = decibelsOf(from[k] / to[k]) / seconds;
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
      const reach = reachAt(k);
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

/** Seven doubles and as many whole numbers. */
const settings = 11;

/** The same where kernels work (`kernels/usual-fall.ts`). */
class PlacedSums {
  private constructor(
    private readonly place: Place,
    private readonly bins: number,
  ) {
    const { at } = place;
    const { room } = place.kernels;
    place.values.fill(0);
    room.doubles(at, 5).set([audible, slowest, fastest, kept, unknown]);
    room.whole(at + 7 * 8, 7).set([bins, ...[0, 1, 2, 3, 4, 5].map((n) => this.array(n))]);
    room.whole(this.array(5), bins).set(Array.from({ length: bins }, (_, k) => reachAt(k)));
  }

  /** Null where the machine has no WebAssembly SIMD. */
  static take(bins: number): PlacedSums | null {
    const place = Place.take(settings + 6 * bins);
    return place && new PlacedSums(place, bins);
  }

  get rates(): Float64Array {
    return this.place.kernels.room.doubles(this.array(4), this.bins);
  }

  leave(): void {
    this.place.leave();
  }

  take(from: Float64Array, to: Float64Array, seconds: Seconds, time: Seconds): void {
    const { place, bins } = this;
    const { room, kernel } = place.kernels;
    room.doubles(place.at + 5 * 8, 2).set([seconds, time]);
    room.doubles(this.array(0), bins).set(from);
    room.doubles(this.array(1), bins).set(to);
    kernel.fallsTaken(place.at);
  }

  /** Address of one of the arrays. */
  private array(n: number): number {
    return this.place.at + (settings + n * this.bins) * 8;
  }
}
