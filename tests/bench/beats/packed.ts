import { type PackedPerceptron, Perceptron } from '../../../shared/hear/perceptron.ts';

/** A network as teach.py and teach_paths.py write it. */
export interface Taught {
  readonly mean: number[];
  readonly spread: number[];
  readonly layers: { readonly weights: number[][]; readonly biases: number[] }[];
}

/** The same as a literal of `PackedPerceptron`. */
export function packed({ mean, spread, layers }: Taught): string {
  const numbers = (list: readonly number[]) =>
    `[${list.map((x) => Number(x.toPrecision(5))).join(', ')}]`;
  const parts = layers.map(({ weights, biases }) => {
    const steps = weights.map((row) => Math.max(...row.map(Math.abs), 1e-9) / 127);
    const bytes = Int8Array.from(
      weights.flatMap((row, u) => row.map((w) => Math.round(w / steps[u]))),
    );
    return `{ steps: ${numbers(steps)}, biases: ${numbers(biases)}, weights: '${Buffer.from(bytes.buffer).toString('base64')}' }`;
  });
  return `{ mean: ${numbers(mean)}, spread: ${numbers(spread)}, layers: [${parts.join(', ')}] }`;
}

/** A network that is there already, to be taught further. */
export function unpacked(net: PackedPerceptron): Taught {
  const { mean, scale, layers } = new Perceptron(net);
  const rowsOf = (weights: Float64Array, units: number) =>
    Array.from({ length: units }, (_, u) => [
      ...weights.subarray((u * weights.length) / units, ((u + 1) * weights.length) / units),
    ]);
  return {
    mean: [...mean],
    spread: Array.from(scale, (one) => 1 / one),
    layers: layers.map(({ weights, biases }) => ({
      weights: rowsOf(weights, biases.length),
      biases: [...biases],
    })),
  };
}

/**
 * A network whose weights lie between those it had before it was taught further and those after: it keeps more of
 * what it knew than either way of teaching (Wortsman et al. 2022, "Robust fine-tuning of zero-shot models", CVPR).
 */
export function between(before: Taught, after: Taught, share: number): Taught {
  const mix = (a: readonly number[], b: readonly number[]) =>
    a.map((x, i) => x + share * (b[i] - x));
  return {
    mean: mix(before.mean, after.mean),
    spread: mix(before.spread, after.spread),
    layers: before.layers.map(({ weights, biases }, l) => ({
      weights: weights.map((row, u) => mix(row, after.layers[l].weights[u])),
      biases: mix(biases, after.layers[l].biases),
    })),
  };
}
