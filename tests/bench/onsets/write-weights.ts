import type { View } from '../../../shared/hear/onset-features.ts';
import type { Shape } from './perceptron.ts';

/**
 * The file with the ear's weights. The bands' mean and spread go into the first layer; its weights are
 * eighth-bit whole numbers with a scale for each unit, the few others are plain numbers.
 */
export function writeWeights(
  parameters: Float32Array,
  shape: Shape,
  mean: Float32Array,
  scale: Float32Array,
  views: readonly View[],
): string {
  const { width, hidden, offsets } = shape;
  const [h1] = hidden;
  const bandOf: number[] = [];
  let base = 0;
  for (const { frames, edges } of views) {
    const bands = edges.length - 1;
    for (let i = 0; i < frames * bands; i++) bandOf.push(base + (i % bands));
    base += bands;
  }
  const whole = new Int8Array(width * h1);
  const scales: number[] = [];
  const firstBiases: number[] = [];
  for (let u = 0; u < h1; u++) {
    const row = bandOf.map((band, i) => parameters[offsets[0] + u * width + i] * scale[band]);
    const step = Math.max(...row.map(Math.abs)) / 127;
    let bias = parameters[offsets[3] + u];
    row.forEach((weight, i) => {
      whole[u * width + i] = Math.round(weight / step);
      bias -= whole[u * width + i] * step * mean[bandOf[i]];
    });
    scales.push(step);
    firstBiases.push(bias);
  }
  const numbers = (values: Iterable<number>) =>
    `[${[...values].map((v) => Number(v.toPrecision(5))).join(', ')}]`;
  const part = (i: number) => numbers(parameters.slice(offsets[i], offsets[i + 1]));
  const text = Buffer.from(whole.buffer).toString('base64');
  return `// Written by tests/bench/fit-onsets.ts; not for editing.

/** Units in the two hidden layers. */
export const HIDDEN: readonly [number, number] = [${hidden.join(', ')}];
/** Size of one step of each first-layer unit's weights. */
export const STEPS = ${numbers(scales)};
export const FIRST_BIASES = ${numbers(firstBiases)};
export const SECOND = ${part(1)};
export const SECOND_BIASES = ${part(4)};
export const THIRD = ${part(2)};
export const THIRD_BIASES = ${part(5)};
/** First-layer weights, signed bytes in base 64, a row of them for each unit. */
export const FIRST =
  '${text}';
`;
}
