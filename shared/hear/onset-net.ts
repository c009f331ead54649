import { KernelRoom, type Kernels, kernels } from '../math/kernel.ts';
import { cellOffset, FEATURES, type Levels, MARGIN } from './onset-features.ts';

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
  const look = kernel ? fastLook(levels, net, kernel) : plainLook(levels, net);
  const group: number[] = [];
  const second = new Float64Array(net.hidden[1]);
  const sums = new Float64Array(PARTS);
  const judge = () => {
    const first = look.firstLayer();
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
    if (look.glance(group.length, cell) < net.worthALook) continue;
    group.push(cell);
    if (group.length === TOGETHER) judge();
  }
  judge();
  return out;
}

/** Four cells' features, and what is read off them. */
interface Look {
  /** Makes a cell the `nth` of the four and sums up whether it is worth a closer look. */
  glance(nth: number, cell: number): number;
  /** What the first layer makes of all four: `max(0, weights x + biases)`, a row a cell. */
  firstLayer(): Float32Array | Float64Array;
}

function plainLook(levels: readonly Levels[], net: OnsetNet): Look {
  const x = new Float64Array(TOGETHER * FEATURES);
  const first = new Float64Array(TOGETHER * net.hidden[0]);
  return {
    glance(nth, cell) {
      gather(levels, cell, x, nth * FEATURES);
      return glance(x, nth * FEATURES, net);
    },
    firstLayer() {
      firstLayer(x, net, first);
      return first;
    },
  };
}

/** Cells whose levels are handed to the kernels at once. */
const SPAN = 256;

function fastLook(levels: readonly Levels[], net: OnsetNet, kernel: Kernels): Look {
  const { hidden, weights, biases } = net;
  const [units] = hidden;
  const row = 4 * Math.ceil(FEATURES / 4);
  const room = new KernelRoom(kernel);
  const x = room.keep([], TOGETHER * row);
  const w = room.place(units * row * 4);
  const sums = room.place(TOGETHER * units * 4);
  const glanceWeights = room.keep(net.glance, row);
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
  const table = room.place(runs.length * 12);
  room.whole(table, runs.length * 3).set(runs.flat());
  const rows = room.floats(w, units * row);
  rows.fill(0);
  for (let u = 0; u < units; u++)
    rows.set(weights[0].subarray(u * FEATURES, (u + 1) * FEATURES), u * row);
  const first = room.floats(sums, TOGETHER * units);
  const views = levels.map((one, v) => room.floats(places[v], rowsOf(one) * one.bands));
  return {
    glance(nth, cell) {
      if (cell % SPAN === 0)
        levels.forEach(({ view, bands, data }, v) => {
          const from = cell * view.perCell * bands;
          views[v].set(data.subarray(from, from + views[v].length));
        });
      const at = x + nth * row * 4;
      kernel.gathered(table, runs.length, cell % SPAN, at);
      return net.glanceBias + kernel.dot(at, glanceWeights, row);
    },
    firstLayer() {
      kernel.fourDots(x, w, row, units, sums);
      for (let i = 0; i < first.length; i++)
        first[i] = Math.max(0, first[i] + biases[0][i % units]);
      return first;
    },
  };
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
  x: Float32Array | Float64Array,
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
