import type { Seconds, Semitones } from '../../math/units.ts';
import type { BeatEvidence } from '../beats/evidence.ts';
import type { Tuning } from '../heard.ts';
import { chromasOf, forPassages } from '../pitch/chroma.ts';
import type { Partials } from '../pitch/partials.ts';

/** What is played over time, as weights of the pitch classes from C, one frame each `hop`. */
export interface Material {
  readonly hop: Seconds;
  /** Pitch classes that sound. */
  readonly weights: readonly Float64Array[];
  /**
   * What tells one passage from another, `row` numbers a frame: pitch classes that sound and that
   * begin, less most of what is usual around, with length 1 (all 0 where nothing sounds); twelve
   * numbers and the same twelve again, so that a rotation is a shift.
   */
  readonly frames: Float64Array;
}

/** Numbers a frame in `frames`. */
export const row = 24;
const finest: Seconds = 0.25;
/** A long take is read in longer frames, so that comparing all with all stays quick. */
const mostFrames = 800;
/** How much of the usual around is taken off, and how far around. */
const usualShare = 0.6;
const around: Seconds = 5;

export function materialOf(
  partials: readonly Partials[],
  tuning: Tuning,
  seconds: Seconds,
  fresh: Pick<BeatEvidence, 'times' | 'fresh'>,
): Material {
  const hop = Math.max(finest, seconds / mostFrames);
  const count = Math.ceil(seconds / hop);
  const blank = () => Array.from({ length: count }, () => new Float64Array(12));
  const weights = blank();
  const begun = blank();
  const chromas = chromasOf(partials, tuning, forPassages);
  partials.forEach((moment, i) => {
    const chroma = chromas[i];
    // Frames overlap a little, so that a moment at an edge counts on both sides.
    const first = Math.max(0, Math.ceil(moment.time / hop - 1.3));
    const last = Math.min(count - 1, Math.floor(moment.time / hop + 0.3));
    for (let k = first; k <= last; k++) for (let c = 0; c < 12; c++) weights[k][c] += chroma[c];
  });
  fresh.times.forEach((time, i) => {
    for (const late of [0, 0.12]) {
      const k = Math.min(count - 1, Math.floor((time + late) / hop));
      for (let c = 0; c < 12; c++) begun[k][c] += fresh.fresh[i * 12 + c];
    }
  });
  const both = weights.map((sounding, k) => {
    const most = Math.max(...sounding) || 1;
    const mostBegun = Math.max(...begun[k]) || 1;
    return unit(sounding.map((w, c) => w / most + begun[k][c] / mostBegun));
  });
  return { hop, weights, frames: toldApart(both, Math.round(around / hop)) };
}

/** Takes most of the running mean off each frame, and writes it twice. */
function toldApart(units: readonly Float64Array[], reach: number): Float64Array {
  const out = new Float64Array(units.length * row);
  const sum = new Float64Array(12);
  let from = 0;
  let until = 0;
  units.forEach((frame, i) => {
    for (; until < Math.min(units.length, i + reach + 1); until++)
      for (let c = 0; c < 12; c++) sum[c] += units[until][c];
    for (; from < i - reach; from++) for (let c = 0; c < 12; c++) sum[c] -= units[from][c];
    if (!frame.some((c) => c !== 0)) return;
    const left = frame.map((c, k) => c - (usualShare * sum[k]) / (until - from));
    const norm = Math.hypot(...left);
    if (norm < 1e-9) return;
    for (let c = 0; c < row; c++) out[i * row + c] = left[c % 12] / norm;
  });
  return out;
}

/** The mean of the pitch classes that sound in a stretch, with its mean taken off and length 1. */
export function meanMaterial({ hop, weights }: Material, from: Seconds, until: Seconds) {
  const sum = new Float64Array(12);
  const last = Math.min(weights.length, Math.ceil(until / hop));
  for (let k = Math.max(0, Math.floor(from / hop)); k < last; k++)
    for (let c = 0; c < 12; c++) sum[c] += weights[k][c];
  return unit(sum);
}

function unit(weights: Float64Array): Float64Array {
  const mean = weights.reduce((sum, w) => sum + w, 0) / weights.length;
  const centred = weights.map((w) => w - mean);
  const norm = Math.hypot(...centred);
  return norm > 0 ? centred.map((c) => c / norm) : centred;
}

/**
 * How alike one frame is to each of the first `count` frames when it is lowered by `up` (0 to 11): -1 to
 * 1, written into `out` from `to` on.
 */
export function likenessRow(
  frames: Float64Array,
  one: number,
  up: Semitones,
  count: number,
  out: Float32Array,
  to: number,
  first = 0,
): void {
  const y = one * row + up;
  const y0 = frames[y];
  const y1 = frames[y + 1];
  const y2 = frames[y + 2];
  const y3 = frames[y + 3];
  const y4 = frames[y + 4];
  const y5 = frames[y + 5];
  const y6 = frames[y + 6];
  const y7 = frames[y + 7];
  const y8 = frames[y + 8];
  const y9 = frames[y + 9];
  const y10 = frames[y + 10];
  const y11 = frames[y + 11];
  let x = first * row;
  for (let j = 0; j < count; j++, x += row)
    out[to + j] =
      frames[x] * y0 +
      frames[x + 1] * y1 +
      frames[x + 2] * y2 +
      frames[x + 3] * y3 +
      frames[x + 4] * y4 +
      frames[x + 5] * y5 +
      frames[x + 6] * y6 +
      frames[x + 7] * y7 +
      frames[x + 8] * y8 +
      frames[x + 9] * y9 +
      frames[x + 10] * y10 +
      frames[x + 11] * y11;
}
