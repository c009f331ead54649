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
