import { KernelRoom, type Kernels, kernels } from '../../math/kernel.ts';
import { keepLayer } from '../kernel-layer.ts';
import { cellOffset, FEATURES, type Levels, MARGIN } from './features.ts';

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
export function likelihoods(
  levels: readonly Levels[],
  cells: number,
  net: OnsetNet,
  kernel: Kernels | null = kernels(),
): Float32Array {
  const out = new Float32Array(cells * PARTS);
  if (kernel) hearByKernel(levels, cells, net, kernel, out);
  else hearPlainly(levels, cells, net, out);
  return out;
}

function hearPlainly(
  levels: readonly Levels[],
  cells: number,
  net: OnsetNet,
  out: Float32Array,
): void {
  const x = new Float64Array(TOGETHER * FEATURES);
  const first = new Float64Array(TOGETHER * net.hidden[0]);
  const second = new Float64Array(net.hidden[1]);
  const sums = new Float64Array(PARTS);
  const group: number[] = [];
  const judge = () => {
    firstLayer(x, net, first);
    group.forEach((cell, i) => {
      const own = first.subarray(i * net.hidden[0], (i + 1) * net.hidden[0]);
      layer(own, net.weights[1], net.biases[1], second);
      for (let u = 0; u < second.length; u++) second[u] = Math.max(0, second[u]);
      layer(second, net.weights[2], net.biases[2], sums);
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
}

/** Cells whose levels are handed to the kernels at once. */
const SPAN = 256;

function hearByKernel(
  levels: readonly Levels[],
  cells: number,
  net: OnsetNet,
  kernel: Kernels,
  out: Float32Array,
): void {
  const { hidden, weights, biases } = net;
  const [units] = hidden;
  const row = 4 * Math.ceil(FEATURES / 4);
  const room = new KernelRoom(kernel);
  const w = room.keep([], units * row);
  const rows = room.floats(w, units * row);
  for (let u = 0; u < units; u++)
    rows.set(weights[0].subarray(u * FEATURES, (u + 1) * FEATURES), u * row);
  const second = keepLayer(room, weights[1], biases[1], units);
  const third = keepLayer(room, weights[2], biases[2], second.units);
  // As many rows as the cells have, and those of their neighbours on either side.
  const rowsOf = ({ view }: Levels) => SPAN * view.perCell + 2 * MARGIN;
  const places = levels.map((one) => room.place(rowsOf(one) * one.bands * 4));
  const runs = levels.flatMap(({ view, bands }, v) => {
    const together = view.step === 1 ? view.frames : 1;
    return Array.from({ length: view.frames / together }, (_, f) => [
      places[v] + (MARGIN + view.from + f * view.step) * bands * 4,
      view.perCell * bands * 4,
      together * bands,
    ]);
  });
  const ear = room.keepJob(
    [net.glanceBias, net.worthALook],
    [
      ...[room.keepJob([], runs.flat()), runs.length, room.keep([], TOGETHER * row), row],
      ...[room.keep(net.glance, row), w, units, room.place(TOGETHER * units * 4)],
      ...[room.keepDoubles(biases[0]), room.place(units * 8)],
      ...[second.weights, second.biases, second.units, room.place(second.units * 8)],
      ...[third.weights, third.biases, third.units, room.place(third.units * 8)],
      room.place(TOGETHER * 4),
    ],
  );
  const likely = room.place(SPAN * PARTS * 4);
  const found = room.floats(likely, SPAN * PARTS);
  const views = levels.map((one, v) => room.floats(places[v], rowsOf(one) * one.bands));
  for (let cell = 0; cell < cells; cell += SPAN) {
    levels.forEach(({ view, bands, data }, v) => {
      const from = cell * view.perCell * bands;
      views[v].set(data.subarray(from, from + views[v].length));
    });
    const count = Math.min(SPAN, cells - cell);
    kernel.hearCells(ear, count, likely);
    out.set(found.subarray(0, count * PARTS), cell * PARTS);
  }
}

/** The numbers that describe a cell, view after view, frame after frame. */
function gather(levels: readonly Levels[], cell: number, into: Float64Array, place: number): void {
  let to = place;
  for (const one of levels) {
    const { bands, data } = one;
    const { frames, step, from } = one.view;
    const run = step === 1 ? frames * bands : bands;
    let at = cellOffset(one, cell) + from * bands;
    for (const end = to + frames * bands; to < end; at += step * bands)
      for (let i = 0; i < run; i++) into[to++] = data[at + i];
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
): void {
  for (let u = 0; u < out.length; u++) {
    let sum = biases[u];
    for (let i = 0; i < x.length; i++) sum += weights[u * x.length + i] * x[i];
    out[u] = sum;
  }
}
