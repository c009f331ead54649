import { trigamma } from '../../math/trigamma.ts';
import type { Seconds } from '../../math/units.ts';
import { type Levels, MARGIN } from './features.ts';
import type { Attack } from './picking.ts';
import { cellAt, highest, rowsAround } from './rises.ts';

/** Cells of a block (half a second), and blocks over which it is told whether there is but noise. */
const BLOCK = 50;
const BLOCKS = 4;
/** Frames this far apart share no sample: those of noise have nothing to do with each other. */
const LAG = 8;
const PAIRS = BLOCK - LAG;
/** A band that lies this many doublings over the floor is heard, and so many of them are needed. */
const HEARD = 0.7;
const ENOUGH = 8;
/** In noise: how much alike frames are at most (correlation), and how much further than expected bands spread. */
const ALIKE = 0.1;
const WIDE = 1.3;
/** An attack is heard in these frames after it. */
const FRAMES = [2, 3];
/**
 * What noise does by chance, in standard deviations: all bands together, and the three that rise most, on average.
 * Of 6092 attacks that the ear took from 9 minutes of noise of five colours none reached 6.3, none 2.8.
 */
const CHANCE = 6.7;
const CHANCE_OF_THREE = 2.9;

/**
 * Leaves out attacks that are but chances of a steady noise, of a tape or a room. A stretch is noise where the levels of
 * its bands have no memory and spread as Gaussian noise does: held and ringing sound remembers, struck sound spreads
 * further. In such a stretch, or beside it, an attack is one if the bands rise further than noise does by chance.
 *
 * @param levels the longest view's
 */
export function outOfNoise(attacks: readonly Attack[], levels: Levels): Attack[] {
  const stretches = noiseStretches(levels);
  return attacks.filter(({ time }) => {
    const block = Math.floor(cellAt(time) / BLOCK);
    for (let first = block - BLOCKS; first <= block + 1; first++) {
      const noise = stretches[first];
      if (noise && byChance(levels, time, noise)) return false;
    }
    return true;
  });
}

/** What the bands of a stretch of noise do. */
interface Noise {
  /** Those that are heard. */
  readonly bands: readonly number[];
  /** Of each band, in doublings. */
  readonly mean: Float64Array;
  readonly spread: Float64Array;
}

/** Sums over a block for each band: of levels, of their squares, and of pairs that lie `LAG` apart. */
interface Sums {
  readonly level: Float64Array;
  readonly square: Float64Array;
  readonly early: Float64Array;
  readonly late: Float64Array;
  readonly product: Float64Array;
}

/** For each block the noise that begins with it, null where it and those after it hold anything else. */
function noiseStretches(levels: Levels): (Noise | null)[] {
  const { bands, data } = levels;
  const blocks = Math.floor((data.length / bands - 2 * MARGIN) / BLOCK);
  const sums = Array.from({ length: blocks }, (_, k) => blockSums(levels, k));
  const expected = noiseSpreads(levels);
  return sums.map((_, k) =>
    k + BLOCKS > blocks ? null : noiseIn(sums.slice(k, k + BLOCKS), expected),
  );
}

function blockSums({ bands, data }: Levels, block: number): Sums {
  const [level, square, early, late, product] = Array.from(
    { length: 5 },
    () => new Float64Array(bands),
  );
  for (let r = 0; r < BLOCK; r++) {
    const row = (MARGIN + block * BLOCK + r) * bands;
    for (let b = 0; b < bands; b++) {
      const x = data[row + b];
      level[b] += x;
      square[b] += x * x;
    }
  }
  for (let r = 0; r < PAIRS; r++) {
    const row = (MARGIN + block * BLOCK + r) * bands;
    for (let b = 0; b < bands; b++) {
      const x = data[row + b];
      const y = data[row + LAG * bands + b];
      early[b] += x;
      late[b] += y;
      product[b] += x * y;
    }
  }
  return { level, square, early, late, product };
}

function noiseIn(blocks: readonly Sums[], expected: Float64Array): Noise | null {
  const bands: number[] = [];
  const mean = new Float64Array(expected.length);
  const spread = new Float64Array(expected.length);
  const frames = blocks.length * BLOCK;
  const pairs = blocks.length * PAIRS;
  let alike = 0;
  let wide = 0;
  for (let b = 0; b < expected.length; b++) {
    const total = (of: keyof Sums) => blocks.reduce((sum, block) => sum + block[of][b], 0);
    mean[b] = total('level') / frames;
    const variance = total('square') / frames - mean[b] ** 2;
    if (mean[b] < HEARD || variance <= 0) continue;
    const together = (total('product') - (total('early') * total('late')) / pairs) / pairs;
    spread[b] = Math.sqrt(variance);
    alike += together / variance;
    wide += spread[b] / expected[b];
    bands.push(b);
  }
  const n = bands.length;
  return n >= ENOUGH && alike < ALIKE * n && wide < WIDE * n ? { bands, mean, spread } : null;
}

function byChance(levels: Levels, time: Seconds, { bands, mean, spread }: Noise): boolean {
  const rows = FRAMES.map(rowsAround(levels, time));
  const rises = bands.map((b) => (highest(levels.data, rows, b) - mean[b]) / spread[b]);
  const sum = rises.reduce((all, rise) => all + rise, 0);
  const [first, second, third] = rises.sort((a, b) => b - a);
  return sum < CHANCE * Math.sqrt(bands.length) && first + second + third < 3 * CHANCE_OF_THREE;
}

/**
 * Standard deviation of each band's level, in doublings of amplitude, where the sound is Gaussian noise. A band's power
 * is nearly of the gamma distribution, the variance of whose logarithm is the trigamma function of its shape (Johnson, Kotz
 * and Balakrishnan, Continuous Univariate Distributions 1, 1994, ch. 17, from memory). Neighbouring bins of a Hann window
 * are alike, so that n of them have a shape of about 0.55 n + 0.5 (measured; right to 4 in 100).
 */
function noiseSpreads({ view }: Levels): Float64Array {
  const { edges } = view;
  return Float64Array.from({ length: edges.length - 1 }, (_, b) => {
    const shape = 0.55 * (edges[b + 1] - edges[b]) + 0.5;
    return Math.sqrt(trigamma(shape)) / (2 * Math.LN2);
  });
}
