import type { KernelRoom, Kernels } from '../math/kernel.ts';
import { packedBytes, packedRows } from '../math/packed-bytes.ts';
import { keepLayer } from './kernel-layer.ts';

/** A layer as it is kept: signed bytes in base 64, a row for each unit, whose step has a size of its own. */
export interface PackedLayer {
  readonly weights: string;
  readonly steps: readonly number[];
  readonly biases: readonly number[];
}

/** A perceptron as it is kept, and what is taken from its inputs and what they are divided by. */
export interface PackedPerceptron {
  readonly mean: readonly number[];
  readonly spread: readonly number[];
  readonly layers: readonly PackedLayer[];
}

interface Layer {
  readonly weights: Float64Array;
  readonly biases: Float64Array;
  readonly out: Float64Array;
}

/** Inputs further than so many spreads from their mean count as that far. */
const FARTHEST = 5;

/** A perceptron with one answer, whose hidden units let pass what is above 0. */
export interface Net {
  /** Weights and bias of the last layer's only unit. */
  readonly last: { readonly weights: Float64Array; readonly bias: number };
  /** What the last hidden layer makes of the inputs from `at` on; good until the next call. */
  hidden(x: Float32Array, at: number): Float64Array;
  /** The last unit's sum for the inputs from `at` on: natural log of odds. */
  odds(x: Float32Array, at: number): number;
}

/** The plain form. */
export class Perceptron implements Net {
  readonly inputs: number;
  readonly mean: Float64Array;
  readonly scale: Float64Array;
  readonly layers: readonly Layer[];
  private readonly input: Float64Array;

  constructor(packed: PackedPerceptron) {
    this.inputs = packed.mean.length;
    this.mean = Float64Array.from(packed.mean);
    this.scale = Float64Array.from(packed.spread, (spread) => 1 / spread);
    this.input = new Float64Array(this.inputs);
    this.layers = packed.layers.map(({ weights, steps, biases }) => {
      return {
        weights: packedRows(packedBytes(weights), steps),
        biases: Float64Array.from(biases),
        out: new Float64Array(biases.length),
      };
    });
  }

  get last(): { readonly weights: Float64Array; readonly bias: number } {
    const { weights, biases } = this.layers[this.layers.length - 1];
    return { weights, bias: biases[0] };
  }

  hidden(x: Float32Array, at: number): Float64Array {
    const { input, mean, scale, layers } = this;
    for (let c = 0; c < input.length; c++)
      input[c] = Math.max(-FARTHEST, Math.min(FARTHEST, (x[at + c] - mean[c]) * scale[c]));
    let before = input;
    for (let l = 0; l + 1 < layers.length; l++) {
      const { weights, biases, out } = layers[l];
      const n = before.length;
      for (let u = 0; u < out.length; u++) {
        let sum = biases[u];
        for (let c = 0; c < n; c++) sum += weights[u * n + c] * before[c];
        out[u] = Math.max(0, sum);
      }
      before = out;
    }
    return before;
  }

  odds(x: Float32Array, at: number): number {
    const hidden = this.hidden(x, at);
    const { weights, bias } = this.last;
    let sum = bias;
    for (let u = 0; u < hidden.length; u++) sum += weights[u] * hidden[u];
    return sum;
  }
}

/** Where a perceptron lies in the kernels' memory: as `perceived` asks for it, and its last hidden layer's answers. */
export interface KeptNet {
  readonly net: number;
  readonly answers: number;
}

/** Puts a perceptron where kernels find it. */
export function keepNet(
  room: KernelRoom,
  { inputs, mean, scale, layers, last }: Perceptron,
): KeptNet {
  let n = inputs;
  const hidden = layers.slice(0, -1).map(({ weights, biases }) => {
    const kept = keepLayer(room, weights, biases, n);
    const out = room.place(kept.units * 8);
    const one = [n, kept.units, kept.weights, kept.biases, out];
    n = kept.units;
    return one;
  });
  const net = room.keepJob(
    [last.bias, FARTHEST],
    [
      ...[inputs, hidden.length, last.weights.length],
      ...[room.keepDoubles(mean), room.keepDoubles(scale), room.place(inputs * 8)],
      ...[room.keepDoubles(last.weights), room.keepJob([], hidden.flat())],
    ],
  );
  return { net, answers: hidden[hidden.length - 1][4] };
}

/**
 * The same perceptron by kernels, with the same answers to the last bit.
 *
 * @param room of kernels that nobody else works with
 */
export function netIn(kernel: Kernels, room: KernelRoom, plain: Perceptron): Net {
  const { inputs, last } = plain;
  const { net, answers } = keepNet(room, plain);
  const x = room.place(inputs * 4);
  let given = room.floats(x, inputs);
  let found = room.doubles(answers, last.weights.length);
  const odds = (all: Float32Array, at: number): number => {
    // Memory that has grown is elsewhere.
    if (given.length === 0) given = room.floats(x, inputs);
    given.set(all.subarray(at, at + inputs));
    return kernel.perceived(net, x);
  };
  return {
    last,
    odds,
    hidden(all, at) {
      odds(all, at);
      if (found.length === 0) found = room.doubles(answers, last.weights.length);
      return found;
    },
  };
}
