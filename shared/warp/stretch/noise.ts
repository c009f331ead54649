import { type Doubles, Place } from '../../math/kernel-places.ts';
import { cosineSeries, exponentialSeries, sineSeries } from '../../math/series.ts';
import type { Share } from '../../math/units.ts';
import type { Turns } from '../bands/spectrum.ts';

/** Bins that are stirred together. */
const block = 4;
/** Blocks on each side by which one is judged. */
const around = 4;
/** A block counts less and less as a bin of it passes these, over the mean magnitude of those around: it is a partial's. */
const standsOut = 2.7;
const aside = 3.3;
/** Square of the mean magnitude over mean power from which a spectrum counts as noise a little and fully; noise has 0.785. */
const peaky = 0.62;
const flat = 0.74;
/** Turn (radians) by which noise is stirred at most for each share of a hop that the source lags behind; half a turn is all. */
const stirred = 9;
/**
 * What overlapping frames of noise lose (dB, measured on white noise from ratio 0.5 to 3): drawn out by
 * ever so much, turned by chance altogether, and at half its length or less.
 */
const drawnOut = 1.44;
const apart = 2.4;
const shortened = 2;
/** Of a decibel. */
const neper = Math.LN10 / 20;

/**
 * Noise that is drawn out comes out tonal where phases only go on: what a bin holds for a moment it then
 * holds for longer. So where the spectrum is flat and frames come closer together than they go, blocks of
 * bins are turned by chance in each frame, the more the closer they come, and raised by what sound that
 * hangs together less loses where frames overlap. Chance is a function of frame and bin alone and the
 * judgement moves with the power it is made from, so that all channels and parts are turned alike.
 */
export class Noise {
  private readonly blocks: number;
  private readonly sums: Float64Array;
  private readonly squares: Float64Array;
  private readonly clear: Float64Array;
  private readonly shares: Float64Array;
  private readonly gains: Float64Array;
  private raised = false;
  /** What kernels read and write in place of these arrays. */
  private readonly job: Place | null;

  /** @param plain for the plain form, whatever the machine has */
  constructor(bins: number, plain = false) {
    const blocks = Math.floor((bins - 1) / block);
    this.blocks = blocks;
    this.job = plain ? null : Place.take(settings + 5 * blocks);
    if (this.job) fillJob(this.job, blocks);
    const make = () => new Float64Array(blocks);
    this.sums = make();
    this.squares = make();
    this.clear = make();
    this.shares = make();
    this.gains = make();
  }

  /** Leaves its memory to others. */
  leave(): void {
    this.job?.leave();
  }

  /** Forgets what was raised: new turns come. */
  restart(): void {
    this.raised = false;
  }

  /** Takes back what the frame before was raised by, so that it doesn't add up. */
  lower(turns: Turns): void {
    if (!this.raised) return;
    this.raised = false;
    const { job } = this;
    const { re, im } = turns;
    if (job && turns.at !== undefined) {
      job.kernels.kernel.noiseLowered(job.at, turns.at, re.length);
      return;
    }
    this.gains.forEach((gain, b) => {
      if (gain === 1) return;
      for (let k = b * block; k < (b + 1) * block; k++) {
        re[k] /= gain;
        im[k] /= gain;
      }
    });
  }

  /**
   * Stirs the turns of a frame.
   *
   * @param power of the frame, over all channels of the sum
   * @param slope how far the source went on since the frame before, over how far the result did
   * @param seed differs from frame to frame and band to band
   */
  stir(power: Doubles, turns: Turns, slope: number, seed: number): void {
    if (Math.abs(slope - 1) < 0.01) return;
    this.raised = true;
    const { shares, gains, job } = this;
    const { re, im } = turns;
    const spread = Math.min(Math.PI, stirred * Math.max(0, 1 - slope));
    const less = spread > 0 ? 1 - Math.sin(spread) / spread : 0;
    const lost =
      neper *
      (slope < 1
        ? drawnOut * Math.min(1, 2.2 * (1 - slope)) + apart * less
        : shortened * Math.min(1, 2 * (slope - 1)));
    if (job && power.at !== undefined && turns.at !== undefined) {
      const { kernel } = job.kernels;
      kernel.noiseStirred(job.at, power.at, turns.at, re.length, spread, lost, seed);
      return;
    }
    this.judge(power.values);
    for (let b = 0; b < shares.length; b++) {
      const share = shares[b];
      gains[b] = 1;
      if (share === 0) continue;
      const gain = exponentialSeries(share * lost);
      // Half a turn at most: of a quarter of the angle a short series says all.
      const y = spread * share * chance(seed + b) * 0.25;
      const quarterSine = sineSeries(y);
      const quarterCosine = cosineSeries(y);
      const halfSine = 2 * quarterSine * quarterCosine;
      const halfCosine = quarterCosine * quarterCosine - quarterSine * quarterSine;
      const cos = (halfCosine * halfCosine - halfSine * halfSine) * gain;
      const sin = 2 * halfSine * halfCosine * gain;
      gains[b] = gain;
      for (let k = b * block; k < (b + 1) * block; k++) {
        const x = re[k];
        re[k] = x * cos - im[k] * sin;
        im[k] = x * sin + im[k] * cos;
      }
    }
  }

  /** How far each block is noise. */
  private judge(power: Float64Array): void {
    const { blocks, sums, squares, clear, shares } = this;
    for (let b = 0, k = 0; b < blocks; b++) {
      let sum = 0;
      for (const end = k + block; k < end; k++) sum += Math.sqrt(power[k]);
      sums[b] = sum;
    }
    let wide = 0;
    for (let b = 0; b < Math.min(around, blocks); b++) wide += sums[b];
    for (let b = 0, k = 0; b < blocks; b++) {
      if (b + around < blocks) wide += sums[b + around];
      if (b > around) wide -= sums[b - around - 1];
      const n = Math.min(blocks - 1, b + around) - Math.max(0, b - around) + 1;
      let most = 0;
      let square = 0;
      for (const end = k + block; k < end; k++) {
        if (power[k] > most) most = power[k];
        square += power[k];
      }
      const mean = wide / (n * block);
      const share = mean > 0 ? ramp(Math.sqrt(most) / mean, aside, standsOut) : 0;
      clear[b] = share;
      squares[b] = share * square;
    }
    for (let b = 0; b < blocks; b++) sums[b] *= clear[b];
    let sum = 0;
    let square = 0;
    let count = 0;
    for (let b = -around; b < blocks; b++) {
      const next = b + around;
      if (next < blocks) {
        sum += sums[next];
        square += squares[next];
        count += clear[next];
      }
      const gone = b - around - 1;
      if (gone >= 0) {
        sum -= sums[gone];
        square -= squares[gone];
        count -= clear[gone];
      }
      if (b < 0) continue;
      const beside = Math.min(
        clear[b],
        b > 0 ? clear[b - 1] : 1,
        b + 1 < blocks ? clear[b + 1] : 1,
      );
      if (beside === 0 || square <= 0) {
        shares[b] = 0;
        continue;
      }
      const flatness = (sum * sum) / (count * block * square);
      shares[b] = beside * ramp(count, 2, 3) * ramp(flatness, peaky, flat);
    }
  }
}

/** Four doubles and eight whole numbers. */
const settings = 8;

/** What `kernels/noise.ts` goes by, the arrays behind it. */
function fillJob({ at, kernels }: Place, blocks: number): void {
  kernels.room.doubles(at, 4).set([aside, standsOut, peaky, flat]);
  const array = (n: number) => at + (settings + n * blocks) * 8;
  kernels.room.whole(at + 32, 8).set([block, around, blocks, ...[0, 1, 2, 3, 4].map(array)]);
}

/** From 0 at `none` to 1 at `all`. */
const ramp = (x: number, none: number, all: number): Share =>
  Math.max(0, Math.min(1, (x - none) / (all - none)));

/** A number from -1 to 1 that looks like chance. */
function chance(seed: number): number {
  let x = Math.imul(seed ^ (seed >>> 16), 0x45d9f3b);
  x = Math.imul(x ^ (x >>> 16), 0x45d9f3b);
  return ((x ^ (x >>> 16)) >>> 0) / 2147483648 - 1;
}
