import { cellOffset, FEATURES, type Levels } from './onset-features.ts';

/** Parts of a cell, each with a likelihood of its own (about 2.5 ms). */
export const PARTS = 4;

/**
 * A perceptron with two hidden layers that has learned what an attack looks like. Weights lie row by
 * row, a row for each unit; biases follow in the same order.
 */
export interface OnsetNet {
  readonly hidden: readonly [number, number];
  readonly weights: readonly [Float32Array, Float32Array, Float32Array];
  readonly biases: readonly [Float32Array, Float32Array, Float32Array];
}

/**
 * For every part of every cell, the likelihood that an attack begins in it.
 *
 * @returns `PARTS` values a cell
 */
export function likelihoods(levels: readonly Levels[], cells: number, net: OnsetNet): Float32Array {
  const [first, second, third] = net.weights;
  const [firstBias, secondBias, thirdBias] = net.biases;
  const [h1, h2] = net.hidden;
  const out = new Float32Array(cells * PARTS);
  const x = new Float32Array(FEATURES);
  const a = new Float32Array(h1);
  const b = new Float32Array(h2);
  for (let cell = 0; cell < cells; cell++) {
    gather(levels, cell, x);
    layer(x, first, firstBias, a);
    layer(a, second, secondBias, b);
    for (let p = 0; p < PARTS; p++) {
      let sum = thirdBias[p];
      for (let i = 0; i < h2; i++) sum += third[p * h2 + i] * b[i];
      out[cell * PARTS + p] = 1 / (1 + Math.exp(-sum));
    }
  }
  return out;
}

/** The numbers that describe a cell, view after view, frame after frame. */
export function gather(levels: readonly Levels[], cell: number, into: Float32Array): void {
  let at = 0;
  for (const one of levels) {
    const from = cellOffset(one, cell);
    const count = one.view.frames * one.bands;
    into.set(one.data.subarray(from, from + count), at);
    at += count;
  }
}

/** `out = max(0, weights x + biases)`; the input's length is a multiple of 4. */
function layer(
  x: Float32Array,
  weights: Float32Array,
  biases: Float32Array,
  out: Float32Array,
): void {
  const n = x.length;
  for (let u = 0; u < out.length; u++) {
    const row = u * n;
    let s0 = biases[u];
    let s1 = 0;
    let s2 = 0;
    let s3 = 0;
    for (let i = 0; i < n; i += 4) {
      s0 += weights[row + i] * x[i];
      s1 += weights[row + i + 1] * x[i + 1];
      s2 += weights[row + i + 2] * x[i + 2];
      s3 += weights[row + i + 3] * x[i + 3];
    }
    const sum = s0 + s1 + s2 + s3;
    out[u] = Math.max(sum, 0);
  }
}
