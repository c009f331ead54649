import { decibelsOf } from '../../math/decibels.ts';
import { Place } from '../../math/kernel-places.ts';
import type { Decibels, Hertz, Seconds, Share } from '../../math/units.ts';
import type { Band } from '../bands/bands.ts';
import type { Spectrum } from '../bands/spectrum.ts';
import type { Around } from './around.ts';
import type { Knot } from './time-plan.ts';
import { UsualFall } from './usual-fall.ts';

/**
 * For how long (s) sound counts as falling as is usual, besides what was measured of it: a fall over so short a
 * time may be chance.
 */
const doubt: Seconds = 0.5;
/** Share of the usual fall that it counts for: what is held is older than most of what was measured, and falls slower. */
const older: Share = 0.7;
/** Time (s) from which a fall can be measured. */
const shortest: Seconds = 0.02;
/** Fastest fall (dB a second) that is believed. */
const fastest = 25;
/** Share of what is expected that is made up: two notes in one bin fall and rise by chance as well. */
const believed: Share = 0.7;
/** Most that a level is moved by. */
const farthest: Decibels = 12;
/** Gains under this are left: a copy is worth more. */
const least: Decibels = 1;
/** Power (share of the largest) below which there is nothing to be carried. */
const silent = 1e-9;

/**
 * Levels of what sounds on when something new begins. A piece that was shortened is farther on in the
 * source than in the result, so what is held has died away too far, and one that was drawn out not far
 * enough. How fast each part of the spectrum falls is measured from one attack to just before the next,
 * for as long as the same sound goes on; where that is short, the fall that is usual at that frequency says
 * the rest. What the two times differ by is made up for by a gain that goes on from piece to piece. Where an attack brings new sound the gain counts for the old one's share alone.
 * A plan's decision: it knows nothing of the result.
 */
export class HeldLevels {
  private readonly usual: UsualFall;
  /** Bin by bin: what is still to be made up for (dB), by how much what sounds has fallen so far, and in what time. */
  private readonly gain: Float64Array;
  private readonly fall: Float64Array;
  private readonly time: Float64Array;
  private last: Float64Array | undefined;
  /** What kernels read and write in place of these arrays. */
  private readonly job: HeldJob | null;

  /** @param plain for the plain form, whatever the machine has; the other gives the same to the last bit */
  constructor(
    private readonly band: Band,
    private readonly sampleRate: Hertz,
    plain = false,
  ) {
    const bins = band.window / 2 + 1;
    this.job = plain ? null : HeldJob.take(bins);
    this.usual = new UsualFall(bins, plain);
    this.gain = new Float64Array(bins);
    this.fall = new Float64Array(bins);
    this.time = new Float64Array(bins);
  }

  /** Leaves its memory to others. */
  leave(): void {
    this.job?.leave();
    this.usual.leave();
  }

  /**
   * Gains (dB, at frequencies from 0 to half the band's rate) with which the piece from `z` on begins,
   * after the one from `a` to `z`; none where nothing has to be made up for. Piece by piece in order.
   *
   * @param around `z`, each partial as one (`Surroundings.wideAt`)
   * @param dying share of what dies away by itself in the piece that ends
   */
  next(a: Knot, z: Knot, { before, after }: Around, dying: Share): Float32Array | undefined {
    const { band, usual, gain, fall, time, last, sampleRate, job } = this;
    const long = (z.source - a.source) / sampleRate;
    const lag = long - (z.out - a.out) / sampleRate;
    const measured = long - (band.window * band.decimation) / sampleRate;
    if (last && measured > shortest) usual.take(last, before, measured);
    if (job) {
      this.last = after;
      const time = last && measured > shortest ? measured : 0;
      return job.next(before, after, usual.rates, time, lag, dying);
    }
    let top = 0;
    for (let k = 0; k < before.length; k++) top = Math.max(top, before[k], after[k]);
    const gains = new Float32Array(before.length);
    let most = 0;
    for (let k = 0; k < before.length; k++) {
      const sounds = before[k] > top * silent;
      if (sounds && last && measured > shortest && last[k] > 0) {
        fall[k] += decibelsOf(last[k] / before[k]);
        time[k] += measured;
      }
      const rate = (fall[k] + doubt * older * usual.rates[k]) / (time[k] + doubt);
      const missing = Math.max(0, Math.min(fastest, rate)) * lag * dying * believed;
      const wanted = Math.max(-farthest, Math.min(farthest, gain[k] + missing));
      const old = sounds ? Math.min(1, before[k] / after[k]) : 0;
      gain[k] = decibelsOf(old * 10 ** (wanted / 10) + 1 - old);
      fall[k] *= old;
      time[k] *= old;
      gains[k] = gain[k];
      most = Math.max(most, Math.abs(gain[k]));
    }
    this.last = after;
    return most > least ? gains : undefined;
  }
}

/** Nine doubles and as many whole numbers. */
const settings = 14;

/** What `kernels/held-levels.ts` goes by, and its arrays behind it. */
class HeldJob {
  private flipped = false;

  private constructor(
    private readonly place: Place,
    private readonly bins: number,
  ) {
    const { at } = place;
    const { room } = place.kernels;
    place.values.fill(0);
    room.doubles(at, 6).set([silent, doubt, older, fastest, believed, farthest]);
    const arrays = [0, 1, 2, 3, 4, 5, 6, 7].map((n) => this.array(n));
    room.whole(at + 9 * 8, 9).set([bins, ...arrays]);
  }

  /** Null where the machine has no WebAssembly SIMD. */
  static take(bins: number): HeldJob | null {
    const place = Place.take(settings + 8 * bins);
    return place && new HeldJob(place, bins);
  }

  leave(): void {
    this.place.leave();
  }

  /** Gains, as `HeldLevels.next` has them. */
  next(
    before: Float64Array,
    after: Float64Array,
    rates: Float64Array,
    measured: Seconds,
    lag: Seconds,
    dying: Share,
  ): Float32Array | undefined {
    const { place, bins } = this;
    const { room, kernel } = place.kernels;
    // What comes after this attack is what was there last at the next one.
    const [last, now] = this.flipped ? [2, 0] : [0, 2];
    this.flipped = !this.flipped;
    room.doubles(place.at + 6 * 8, 3).set([measured, lag, dying]);
    room.whole(place.at + 9 * 8, 4).set([bins, this.array(last), this.array(1), this.array(now)]);
    room.doubles(this.array(1), bins).set(before);
    room.doubles(this.array(now), bins).set(after);
    room.doubles(this.array(3), bins).set(rates);
    const most = kernel.heldGains(place.at);
    return most > least ? room.floats(this.array(7), bins).slice() : undefined;
  }

  /** Address of one of the arrays. */
  private array(n: number): number {
    return this.place.at + (settings + n * this.bins) * 8;
  }
}

/** Lays gains over turns that have other, but as evenly spaced, frequencies. */
export function raise(turns: Spectrum, gains: Float32Array): void {
  const place = turns.at === undefined ? null : Place.take(gains.length);
  if (place && turns.at !== undefined) {
    const { room, kernel } = place.kernels;
    room.floats(place.at, gains.length).set(gains);
    kernel.turnsRaised(turns.at, turns.re.length, place.at, gains.length);
    place.leave();
    return;
  }
  const { re, im } = turns;
  const step = (gains.length - 1) / (re.length - 1);
  for (let k = 0; k < re.length; k++) {
    const x = k * step;
    const i = Math.min(gains.length - 2, Math.floor(x));
    const gain = 10 ** ((gains[i] + (gains[i + 1] - gains[i]) * (x - i)) / 20);
    re[k] *= gain;
    im[k] *= gain;
  }
}
