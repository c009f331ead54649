import { fromBase64 } from '../math/base64.ts';
import { KernelRoom, type Kernels, kernels } from '../math/kernel.ts';
import type { Seconds, Share } from '../math/units.ts';
import { CLOSE_FEATURES, LIKELIHOODS } from './close-look.ts';
import {
  FIRST,
  FIRST_BIASES,
  FIRST_OFFSET,
  LIKELY_STEPS,
  SECOND,
  SECOND_BIASES,
  STEPS,
  THIRD,
  THIRD_BIASES,
} from './timing-weights.ts';

/** What a close look tells of an attack: how far from the moment looked at it begins, and how sure it is one. */
export interface Timing {
  readonly offset: Seconds;
  readonly sureness: Share;
}

/** Looks that go through the first layer together. */
const TOGETHER = 4;

/** How a perceptron with two hidden layers times what `closeFeatures` has seen. */
export function timingsOf(looks: Float32Array, kernel: Kernels | null = kernels()): Timing[] {
  const count = looks.length / CLOSE_FEATURES;
  const firstLayer = kernel ? fastFirstLayer(looks, kernel) : plainFirstLayer(looks);
  const units = STEPS.length;
  const first = new Float64Array(units);
  const second = new Float64Array(SECOND_BIASES.length);
  const answers = new Float64Array(THIRD_BIASES.length);
  return Array.from({ length: count }, (_, n) => {
    const sums = firstLayer(n);
    for (let u = 0; u < units; u++) first[u] = Math.max(0, sums[u] + FIRST_BIASES[u]);
    layer(first, SECOND, SECOND_BIASES, second);
    for (let u = 0; u < second.length; u++) second[u] = Math.max(0, second[u]);
    layer(second, THIRD, THIRD_BIASES, answers);
    return timingFrom(answers);
  });
}

/**
 * The answers are logits: one for each millisecond, last that for no attack. The time is the median of
 * the distribution, which keeps the mean distance from the truth small.
 */
function timingFrom(answers: Float64Array): Timing {
  const places = answers.length - 1;
  let top = answers[0];
  for (const answer of answers) top = Math.max(top, answer);
  let attack = 0;
  for (let i = 0; i < places; i++) attack += Math.exp(answers[i] - top);
  const none = Math.exp(answers[places] - top);
  let sum = 0;
  let place = 0;
  for (; place < places - 1; place++) {
    const here = Math.exp(answers[place] - top);
    if (sum + here >= attack / 2) break;
    sum += here;
  }
  const here = Math.exp(answers[place] - top);
  const within = here > 0 ? (attack / 2 - sum) / here : 0.5;
  return {
    offset: (FIRST_OFFSET + place - 0.5 + within) / 1000,
    sureness: attack / (attack + none),
  };
}

/** First-layer weights as they were taught, in rows of `row` numbers. */
function firstWeights(row: number): Float32Array {
  const bytes = new Int8Array(fromBase64(FIRST).buffer);
  const weights = new Float32Array(STEPS.length * row);
  STEPS.forEach((step, u) => {
    for (let i = 0; i < CLOSE_FEATURES; i++)
      weights[u * row + i] =
        bytes[u * CLOSE_FEATURES + i] * (i < CLOSE_FEATURES - LIKELIHOODS ? step : LIKELY_STEPS[u]);
  });
  return weights;
}

/** The sums of the first layer's units for the `n`-th look, without their biases. */
type FirstLayer = (n: number) => ArrayLike<number>;

function plainFirstLayer(looks: Float32Array): FirstLayer {
  const weights = firstWeights(CLOSE_FEATURES);
  const sums = new Float64Array(STEPS.length);
  const none = new Float64Array(STEPS.length);
  return (n) => {
    layer(looks.subarray(n * CLOSE_FEATURES, (n + 1) * CLOSE_FEATURES), weights, none, sums);
    return sums;
  };
}

function fastFirstLayer(looks: Float32Array, kernel: Kernels): FirstLayer {
  const row = 4 * Math.ceil(CLOSE_FEATURES / 4);
  const units = STEPS.length;
  const room = new KernelRoom(kernel);
  const x = room.keep([], TOGETHER * row);
  const w = room.keep(firstWeights(row));
  const out = room.place(TOGETHER * units * 4);
  const rows = room.floats(x, TOGETHER * row);
  const sums = room.floats(out, TOGETHER * units);
  return (n) => {
    const nth = n % TOGETHER;
    if (nth === 0) {
      for (let k = 0; k < TOGETHER; k++) {
        const from = (n + k) * CLOSE_FEATURES;
        rows.set(looks.subarray(from, from + CLOSE_FEATURES), k * row);
      }
      kernel.fourDots(x, w, row, units, out);
    }
    return sums.subarray(nth * units, (nth + 1) * units);
  };
}

/** `weights x + biases`, a row of weights for each of `out`. */
function layer(
  x: ArrayLike<number>,
  weights: ArrayLike<number>,
  biases: ArrayLike<number>,
  out: Float64Array,
): void {
  for (let u = 0; u < out.length; u++) {
    let sum = biases[u];
    for (let i = 0; i < x.length; i++) sum += weights[u * x.length + i] * x[i];
    out[u] = sum;
  }
}
