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

/** `max(0, weights x + biases)` for `TOGETHER` cells; two units at a time (their number is even). */
function firstLayer(
  x: Float64Array,
  { weights, biases, hidden }: OnsetNet,
  out: Float64Array,
): void {
  const w = weights[0];
  const units = hidden[0];
  const n = FEATURES;
  for (let u = 0; u < units; u += 2) {
    const row = u * n;
    const next = row + n;
    let a0 = biases[0][u];
    let a1 = a0;
    let a2 = a0;
    let a3 = a0;
    let b0 = biases[0][u + 1];
    let b1 = b0;
    let b2 = b0;
    let b3 = b0;
    for (let i = 0; i < n; i++) {
      const p = w[row + i];
      const q = w[next + i];
      const x0 = x[i];
      const x1 = x[n + i];
      const x2 = x[2 * n + i];
      const x3 = x[3 * n + i];
      a0 += p * x0;
      a1 += p * x1;
      a2 += p * x2;
      a3 += p * x3;
      b0 += q * x0;
      b1 += q * x1;
      b2 += q * x2;
      b3 += q * x3;
    }
    const as = [a0, a1, a2, a3];
    const bs = [b0, b1, b2, b3];
    for (let cell = 0; cell < TOGETHER; cell++) {
      out[cell * units + u] = Math.max(0, as[cell]);
      out[cell * units + u + 1] = Math.max(0, bs[cell]);
    }
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
