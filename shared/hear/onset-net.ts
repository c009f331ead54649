import { cellOffset, FEATURES, type Levels } from './onset-features.ts';

/** Parts of a cell, each with a likelihood of its own (about 2.5 ms). */
export const PARTS = 4;

/** Cells that go through the first layer together, so that each weight is fetched once for all. */
const TOGETHER = 4;

/**
 * A perceptron with two hidden layers that has learned what an attack looks like. Weights lie row by
 * row, a row for each unit.
 */
export interface OnsetNet {
  readonly hidden: readonly [number, number];
  readonly weights: readonly [Float64Array, Float64Array, Float64Array];
  readonly biases: readonly [Float64Array, Float64Array, Float64Array];
  /** One weight for each feature: whether the cell is worth a look, and from which sum on it is. */
  readonly glance: Float64Array;
  readonly glanceBias: number;
  readonly worthALook: number;
}

/**
 * For every part of every cell, the likelihood that an attack begins in it; 0 in the cells that a
 * glance passes over.
 *
 * @returns `PARTS` values a cell
 */
export function likelihoods(levels: readonly Levels[], cells: number, net: OnsetNet): Float32Array {
  const out = new Float32Array(cells * PARTS);
  const x = new Float64Array(TOGETHER * FEATURES);
  const group: number[] = [];
  const first = new Float64Array(TOGETHER * net.hidden[0]);
  const second = new Float64Array(net.hidden[1]);
  const judge = () => {
    firstLayer(x, net, first);
    group.forEach((cell, i) => {
      const own = first.subarray(i * net.hidden[0], (i + 1) * net.hidden[0]);
      layer(own, net.weights[1], net.biases[1], second);
      for (let u = 0; u < second.length; u++) second[u] = Math.max(0, second[u]);
      const sums = layer(second, net.weights[2], net.biases[2], new Float64Array(PARTS));
      for (let p = 0; p < PARTS; p++) out[cell * PARTS + p] = 1 / (1 + Math.exp(-sums[p]));
    });
    group.length = 0;
  };
  for (let cell = 0; cell < cells; cell++) {
    const at = group.length * FEATURES;
    gather(levels, cell, x, at);
    if (glance(x, at, net) < net.worthALook) continue;
    group.push(cell);
    if (group.length === TOGETHER) judge();
  }
  judge();
  return out;
}

/** The numbers that describe a cell, view after view, frame after frame. */
function gather(levels: readonly Levels[], cell: number, into: Float64Array, from: number): void {
  let to = from;
  for (const one of levels) {
    const { bands, data } = one;
    const { frames, step, from: first } = one.view;
    let at = cellOffset(one, cell) + first * bands;
    for (let f = 0; f < frames; f++) {
      for (let b = 0; b < bands; b++) into[to++] = data[at + b];
      at += step * bands;
    }
  }
}

function glance(x: Float64Array, from: number, { glance: w, glanceBias }: OnsetNet): number {
  let even = glanceBias;
  let odd = 0;
  for (let i = 0; i < FEATURES; i += 2) {
    even += w[i] * x[from + i];
    odd += w[i + 1] * x[from + i + 1];
  }
  return even + odd;
}

/** `max(0, weights x + biases)` for `TOGETHER` cells. */
function firstLayer(
  x: Float64Array,
  { weights, biases, hidden }: OnsetNet,
  out: Float64Array,
): void {
  const w = weights[0];
  const units = hidden[0];
  const n = FEATURES;
  for (let u = 0; u < units; u++) {
    const row = u * n;
    let s0 = biases[0][u];
    let s1 = s0;
    let s2 = s0;
    let s3 = s0;
    for (let i = 0; i < n; i++) {
      const weight = w[row + i];
      s0 += weight * x[i];
      s1 += weight * x[n + i];
      s2 += weight * x[2 * n + i];
      s3 += weight * x[3 * n + i];
    }
    out[u] = Math.max(0, s0);
    out[units + u] = Math.max(0, s1);
    out[2 * units + u] = Math.max(0, s2);
    out[3 * units + u] = Math.max(0, s3);
  }
}

/** `weights x + biases`. */
function layer(
  x: Float64Array,
  weights: Float64Array,
  biases: Float64Array,
  out: Float64Array,
): Float64Array {
  for (let u = 0; u < out.length; u++) {
    let sum = biases[u];
    for (let i = 0; i < x.length; i++) sum += weights[u * x.length + i] * x[i];
    out[u] = sum;
  }
  return out;
}
