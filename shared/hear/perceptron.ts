import { fromBase64 } from '../math/base64.ts';

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

/** A perceptron whose hidden units let pass what is above 0. */
export class Perceptron {
  readonly inputs: number;
  private readonly mean: Float64Array;
  private readonly scale: Float64Array;
  private readonly layers: readonly Layer[];
  private readonly input: Float64Array;

  constructor(packed: PackedPerceptron) {
    this.inputs = packed.mean.length;
    this.mean = Float64Array.from(packed.mean);
    this.scale = Float64Array.from(packed.spread, (spread) => 1 / spread);
    this.input = new Float64Array(this.inputs);
    this.layers = packed.layers.map(({ weights, steps, biases }) => {
      const bytes = new Int8Array(fromBase64(weights).buffer);
      const row = bytes.length / steps.length;
      return {
        weights: Float64Array.from(bytes, (byte, i) => byte * steps[Math.floor(i / row)]),
        biases: Float64Array.from(biases),
        out: new Float64Array(biases.length),
      };
    });
  }

  /** Weights and bias of the last layer's only unit. */
  get last(): { readonly weights: Float64Array; readonly bias: number } {
    const { weights, biases } = this.layers[this.layers.length - 1];
    return { weights, bias: biases[0] };
  }

  /** What the last hidden layer makes of the inputs from `at` on; good until the next call. */
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

  /** The last unit's sum for the inputs from `at` on: natural log of odds. */
  odds(x: Float32Array, at: number): number {
    const hidden = this.hidden(x, at);
    const { weights, bias } = this.last;
    let sum = bias;
    for (let u = 0; u < hidden.length; u++) sum += weights[u] * hidden[u];
    return sum;
  }
}
