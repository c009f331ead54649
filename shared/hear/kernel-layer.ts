import type { KernelRoom } from '../math/kernel.ts';

/** A layer of a perceptron as the kernels ask for it. */
export interface KernelLayer {
  readonly weights: number;
  readonly biases: number;
  /** An even number: where there is an odd one, a unit that stays 0 fills up. */
  readonly units: number;
}

/**
 * Puts a layer where kernels find it: a row of weights for each input, as `layer` of kernels/perceptron.ts
 * reads them.
 *
 * @param weights row by row, a row for each unit
 * @param inputs how many there will be, with those that fill up
 */
export function keepLayer(
  room: KernelRoom,
  weights: ArrayLike<number>,
  biases: ArrayLike<number>,
  inputs: number,
): KernelLayer {
  const count = biases.length;
  const n = weights.length / count;
  const units = count + (count % 2);
  const turned = new Float64Array(inputs * units);
  for (let u = 0; u < count; u++)
    for (let i = 0; i < n; i++) turned[i * units + u] = weights[u * n + i];
  return {
    weights: room.keepDoubles(turned),
    biases: room.keepDoubles(biases, units),
    units,
  };
}
