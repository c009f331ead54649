import { KernelRoom, type Kernels, kernels } from '../../math/kernel.ts';
import { packedBytes, packedRows } from '../../math/packed-bytes.ts';
import type { Seconds, Share } from '../../math/units.ts';
import { keepLayer } from '../kernel-layer.ts';
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
  return kernel ? timedByKernel(looks, kernel) : timedPlainly(looks);
}

function timedPlainly(looks: Float32Array): Timing[] {
  const weights = firstWeights(CLOSE_FEATURES);
  const first = new Float64Array(STEPS.length);
  const second = new Float64Array(SECOND_BIASES.length);
  const answers = new Float64Array(THIRD_BIASES.length);
  return Array.from({ length: looks.length / CLOSE_FEATURES }, (_, n) => {
    const look = looks.subarray(n * CLOSE_FEATURES, (n + 1) * CLOSE_FEATURES);
    layer(look, weights, FIRST_BIASES, first);
    for (let u = 0; u < first.length; u++) first[u] = Math.max(0, first[u]);
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
  const bytes = packedBytes(FIRST);
  const taught = packedRows(bytes, STEPS);
  const weights = new Float32Array(STEPS.length * row);
  for (let u = 0; u < STEPS.length; u++) {
    const from = u * CLOSE_FEATURES;
    weights.set(taught.subarray(from, from + CLOSE_FEATURES), u * row);
    for (let i = CLOSE_FEATURES - LIKELIHOODS; i < CLOSE_FEATURES; i++)
      weights[u * row + i] = bytes[from + i] * LIKELY_STEPS[u];
  }
  return weights;
}

function timedByKernel(looks: Float32Array, kernel: Kernels): Timing[] {
  const row = 4 * Math.ceil(CLOSE_FEATURES / 4);
  const units = STEPS.length;
  const first = firstWeights(row);
  const room = new KernelRoom(kernel);
  const x = room.keep([], TOGETHER * row);
  const second = keepLayer(room, SECOND, SECOND_BIASES, units);
  const third = keepLayer(room, THIRD, THIRD_BIASES, second.units);
  const timer = room.keepJob(
    [FIRST_OFFSET],
    [
      ...[x, row, room.keep(first), units, room.place(TOGETHER * units * 4)],
      ...[room.keepDoubles(FIRST_BIASES), room.place(units * 8)],
      ...[second.weights, second.biases, second.units, room.place(second.units * 8)],
      ...[third.weights, third.biases, THIRD_BIASES.length, third.units],
      room.place(third.units * 8),
    ],
  );
  const out = room.place(TOGETHER * 2 * 8);
  const found = room.doubles(out, TOGETHER * 2);
  const rows = room.floats(x, TOGETHER * row);
  const timings: Timing[] = [];
  const all = looks.length / CLOSE_FEATURES;
  for (let n = 0; n < all; n += TOGETHER) {
    const count = Math.min(TOGETHER, all - n);
    for (let k = 0; k < count; k++) {
      const from = (n + k) * CLOSE_FEATURES;
      rows.set(looks.subarray(from, from + CLOSE_FEATURES), k * row);
    }
    kernel.timeLooks(timer, count, out);
    for (let k = 0; k < count; k++)
      timings.push({ offset: found[2 * k] / 1000, sureness: found[2 * k + 1] });
  }
  return timings;
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
