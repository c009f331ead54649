import type { Seconds, Semitones, Share } from '../math/units.ts';
import type { Tuning } from './heard.ts';
import { chromaOf } from './key.ts';
import type { Partials } from './partials.ts';

/** What is played over time, as weights of the pitch classes from C, one frame each `hop`. */
export interface Material {
  readonly hop: Seconds;
  readonly weights: readonly Float64Array[];
  /** The same with the mean taken off and length 1; all 0 where nothing sounds. */
  readonly frames: readonly Float64Array[];
}

const frameHop: Seconds = 0.25;

export function materialOf(
  partials: readonly Partials[],
  tuning: Tuning,
  seconds: Seconds,
): Material {
  const weights = Array.from({ length: Math.ceil(seconds / frameHop) }, () => new Float64Array(12));
  for (const moment of partials) {
    const chroma = chromaOf([moment], tuning);
    // Frames overlap a little, so that a moment at an edge counts on both sides.
    const first = Math.ceil(moment.time / frameHop - 1.3);
    const last = Math.floor(moment.time / frameHop + 0.3);
    for (let k = Math.max(0, first); k <= Math.min(weights.length - 1, last); k++)
      for (let c = 0; c < 12; c++) weights[k][c] += chroma[c];
  }
  return { hop: frameHop, weights, frames: weights.map(unit) };
}

/** The mean material of a stretch, with its mean taken off and length 1. */
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

/** How alike two frames are when the second is lowered by `semitones`: a correlation, -1 to 1. */
function likeness(a: Float64Array, b: Float64Array, semitones: Semitones): number {
  let dot = 0;
  for (let c = 0; c < 12; c++) dot += a[c] * b[(c + semitones + 12) % 12];
  return dot;
}

/**
 * How alike the music from two moments on is over `length` of the first and half to twice that of the
 * second, when the second is lowered by `semitones`: the mean likeness along the best alignment,
 * weighted symmetrically (Sakoe and Chiba 1978, symmetric form), free at its end.
 */
export function alikeFrom(
  { frames, hop }: Material,
  first: Seconds,
  second: Seconds,
  semitones: Semitones,
  length: Seconds,
): Share {
  const a0 = Math.round(first / hop);
  const b0 = Math.round(second / hop);
  const n = Math.min(Math.max(1, Math.round(length / hop)), frames.length - a0);
  let before = new Float64Array(2 * n);
  let now = new Float64Array(2 * n);
  let best = 0;
  for (let i = 0; i < n; i++) {
    now.fill(Number.NEGATIVE_INFINITY);
    const last = Math.min(2 * i + 1, frames.length - 1 - b0);
    for (let j = Math.floor(i / 2); j <= last; j++) {
      const here = likeness(frames[a0 + i], frames[b0 + j], semitones);
      let from = i === 0 && j === 0 ? here : Number.NEGATIVE_INFINITY;
      if (i > 0 && j > 0) from = Math.max(from, before[j - 1] + here);
      if (i > 0) from = Math.max(from, before[j]);
      if (j > 0) from = Math.max(from, now[j - 1]);
      now[j] = from + here;
      if (i === n - 1) best = Math.max(best, now[j] / (i + j + 2));
    }
    [before, now] = [now, before];
  }
  return best;
}
