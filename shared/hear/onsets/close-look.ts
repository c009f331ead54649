import { type Kernels, kernels } from '../../math/kernel.ts';
import type { Hertz, Samples, Seconds } from '../../math/units.ts';
import { ANALYSIS_RATE } from '../analysis-rate.ts';
import { bandReader, type Framing, toDoublings } from '../band-levels.ts';
import type { HearingSignal } from '../hearing-signal.ts';
import { CELL } from './features.ts';
import { PARTS } from './net.ts';

/** A close view of the sound round one attack: frames at a small hop, counted from the attack on. */
interface CloseView extends Framing {
  /** What the signal's rate is divided by. */
  readonly thin: 1 | 4;
  readonly from: number;
  readonly frames: number;
}

/** Every millisecond with little to tell bands by; in coarser steps what is lower. */
const CLOSE_VIEWS: readonly CloseView[] = [
  { thin: 1, size: 64, hop: 22, edges: [0, 1, 2, 3, 5, 8, 13, 20, 31], from: -44, frames: 73 },
  {
    thin: 1,
    size: 256,
    hop: 55,
    edges: [1, 2, 3, 4, 5, 6, 8, 10, 13, 17, 22, 28, 36, 46],
    from: -18,
    frames: 33,
  },
  {
    thin: 4,
    size: 256,
    hop: 28,
    edges: [2, 3, 4, 5, 6, 8, 10, 12, 15, 19, 24, 30, 38, 48, 60],
    from: -10,
    frames: 23,
  },
];

/** Moments to look at should lie on samples of this rate, so that all views agree on them. */
export const CLOSE_RATE: Hertz = ANALYSIS_RATE / 4;

/** Parts of cells on either side whose likelihood is looked at again. */
const LIKELY = 16;

/** Numbers that describe a moment, and how many of them, the last, are likelihoods. */
export const LIKELIHOODS = 2 * LIKELY + 1;
export const CLOSE_FEATURES =
  LIKELIHOODS + CLOSE_VIEWS.reduce((sum, v) => sum + v.frames * (v.edges.length - 1), 0);

/**
 * What a close look at each attack sees, `CLOSE_FEATURES` numbers an attack: levels in doublings above
 * `floor` in each view, then the likelihoods round it.
 */
export function closeFeatures(
  times: readonly Seconds[],
  sound: Pick<HearingSignal, 'whole' | 'quarter'>,
  floor: number,
  likelihood: Float32Array,
  kernel: Kernels | null = kernels(),
): Float32Array {
  const all = new Float32Array(times.length * CLOSE_FEATURES);
  let column = 0;
  for (const view of CLOSE_VIEWS) {
    const read = bandReader(view, kernel);
    const signal = view.thin === 1 ? sound.whole : sound.quarter;
    times.forEach((time, n) => {
      const centre: Samples = Math.round((time * ANALYSIS_RATE) / view.thin);
      const from = centre + view.from * view.hop;
      read(signal, from, view.frames, all, n * CLOSE_FEATURES + column);
    });
    column += view.frames * (view.edges.length - 1);
  }
  toDoublings(all, 1 / floor, kernel);
  times.forEach((time, n) => {
    const place = ((time * ANALYSIS_RATE) / CELL) * PARTS + PARTS / 2 - 0.5;
    const part = Math.floor(place);
    const share = place - part;
    for (let k = -LIKELY; k <= LIKELY; k++) {
      const before = likelihood[part + k] ?? 0;
      const after = likelihood[part + k + 1] ?? 0;
      all[n * CLOSE_FEATURES + column + LIKELY + k] = before + (after - before) * share;
    }
  });
  return all;
}
