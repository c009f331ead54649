import type { Share } from '../math/units.ts';
import type { Phrase, Tuning } from './heard.ts';
import { chromaOf } from './key.ts';
import type { Partials } from './partials.ts';

/** A phrase counts as a return from this likeness on. */
const alike: Share = 0.72;
/** Steps into which a phrase is divided, whatever its length, before two are laid side by side. */
const steps = 24;

/** Pitch-class weights of equal shares of a phrase, each of length 1. */
function outline(phrase: Phrase, partials: readonly Partials[], tuning: Tuning): Float64Array[] {
  const length = phrase.end - phrase.start;
  return Array.from({ length: steps }, (_, k) => {
    const from = phrase.start + (k * length) / steps;
    const until = from + length / steps + 0.05;
    const chroma = chromaOf(
      partials.filter((p) => p.time >= from - 0.05 && p.time < until),
      tuning,
    );
    const mean = chroma.reduce((sum, c) => sum + c, 0) / 12;
    const centred = chroma.map((c) => c - mean);
    const norm = Math.hypot(...centred) || 1;
    return centred.map((c) => c / norm);
  });
}

/** Likeness of two outlines with the second one lowered by `semitones`, over the cheapest time warp. */
function likeness(a: Float64Array[], b: Float64Array[], semitones: number): Share {
  const n = a.length;
  const cost = new Float64Array((n + 1) * (n + 1)).fill(Number.POSITIVE_INFINITY);
  const steps = new Float64Array((n + 1) * (n + 1));
  cost[0] = 0;
  for (let i = 1; i <= n; i++)
    for (let j = Math.max(1, i - 4); j <= Math.min(n, i + 4); j++) {
      let dot = 0;
      for (let c = 0; c < 12; c++) dot += a[i - 1][c] * b[j - 1][(c + semitones + 12) % 12];
      const here = 1 - dot;
      let best = (i - 1) * (n + 1) + j - 1;
      for (const from of [(i - 1) * (n + 1) + j, i * (n + 1) + j - 1])
        if (cost[from] + 0.1 < cost[best]) best = from;
      cost[i * (n + 1) + j] = cost[best] + here;
      steps[i * (n + 1) + j] = steps[best] + 1;
    }
  const end = n * (n + 1) + n;
  return 1 - cost[end] / steps[end];
}

/**
 * Marks each phrase that repeats an earlier one's material, and how many semitones higher (-5 to 6):
 * pitch-class outlines compared in all twelve rotations by dynamic time warping (Sakoe and Chiba 1978).
 */
export function findReturns(
  phrases: readonly Phrase[],
  partials: readonly Partials[],
  tuning: Tuning,
): Phrase[] {
  const outlines = phrases.map((phrase) => outline(phrase, partials, tuning));
  return phrases.map((phrase, i) => {
    let like: Phrase['like'];
    for (let j = 0; j < i; j++) {
      const ratio = (phrase.end - phrase.start) / (phrases[j].end - phrases[j].start);
      if (ratio < 0.5 || ratio > 2) continue;
      for (let semitones = -5; semitones <= 6; semitones++) {
        const score = likeness(outlines[j], outlines[i], semitones);
        if (score >= alike && score > (like?.score ?? 0)) like = { phrase: j, semitones, score };
      }
    }
    return like ? { ...phrase, like } : phrase;
  });
}
