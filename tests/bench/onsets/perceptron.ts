import { PARTS } from '../../../shared/hear/onset-net.ts';
import { makeRandom } from '../../../shared/math/random.ts';

/** Where each layer's weights and biases lie in one flat array of parameters. */
export interface Shape {
  readonly width: number;
  readonly hidden: readonly [number, number];
  readonly offsets: readonly number[];
  readonly total: number;
}

export function shapeOf(width: number, hidden: readonly [number, number]): Shape {
  const sizes = [width * hidden[0], hidden[0] * hidden[1], hidden[1] * PARTS, ...hidden, PARTS];
  const offsets: number[] = [];
  let total = 0;
  for (const size of sizes) {
    offsets.push(total);
    total += size;
  }
  return { width, hidden, offsets, total };
}

/** He et al. 2015: spread by the number of inputs; the last bias says that attacks are rare. */
export function firstParameters(shape: Shape, seed: number): Float32Array {
  const random = makeRandom(seed);
  const normal = () => Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
  const { width, hidden, offsets, total } = shape;
  const parameters = new Float32Array(total);
  const inputs = [width, hidden[0], hidden[1]];
  for (let layer = 0; layer < 3; layer++)
    for (let i = offsets[layer]; i < offsets[layer + 1]; i++)
      parameters[i] = normal() * Math.sqrt(2 / inputs[layer]);
  parameters.fill(-3, offsets[5]);
  return parameters;
}

/**
 * Adds the gradient of the cross-entropy of one example, times `weight`, to `gradient`.
 * @returns the cross-entropy
 */
export class Teacher {
  private readonly a: Float32Array;
  private readonly b: Float32Array;
  private readonly da: Float32Array;
  private readonly db: Float32Array;
  private readonly shape: Shape;
  constructor(shape: Shape) {
    this.shape = shape;
    this.a = new Float32Array(shape.hidden[0]);
    this.b = new Float32Array(shape.hidden[1]);
    this.da = new Float32Array(shape.hidden[0]);
    this.db = new Float32Array(shape.hidden[1]);
  }

  teach(
    parameters: Float32Array,
    x: Float32Array,
    y: Float32Array,
    weight: number,
    gradient: Float32Array,
  ): number {
    const { a, b, da, db } = this;
    const { width, hidden, offsets } = this.shape;
    const [h1, h2] = hidden;
    const [w1, w2, w3, b1, b2, b3] = offsets;
    for (let u = 0; u < h1; u++) {
      let sum = parameters[b1 + u];
      const row = w1 + u * width;
      for (let i = 0; i < width; i++) sum += parameters[row + i] * x[i];
      a[u] = Math.max(sum, 0);
    }
    for (let u = 0; u < h2; u++) {
      let sum = parameters[b2 + u];
      for (let i = 0; i < h1; i++) sum += parameters[w2 + u * h1 + i] * a[i];
      b[u] = Math.max(sum, 0);
    }
    db.fill(0);
    let loss = 0;
    for (let p = 0; p < PARTS; p++) {
      let sum = parameters[b3 + p];
      for (let i = 0; i < h2; i++) sum += parameters[w3 + p * h2 + i] * b[i];
      const guess = 1 / (1 + Math.exp(-sum));
      loss -= y[p] * Math.log(guess + 1e-7) + (1 - y[p]) * Math.log(1 - guess + 1e-7);
      const error = weight * (guess - y[p]);
      gradient[b3 + p] += error;
      for (let i = 0; i < h2; i++) {
        gradient[w3 + p * h2 + i] += error * b[i];
        db[i] += error * parameters[w3 + p * h2 + i];
      }
    }
    da.fill(0);
    for (let u = 0; u < h2; u++) {
      if (b[u] <= 0) continue;
      gradient[b2 + u] += db[u];
      for (let i = 0; i < h1; i++) {
        gradient[w2 + u * h1 + i] += db[u] * a[i];
        da[i] += db[u] * parameters[w2 + u * h1 + i];
      }
    }
    for (let u = 0; u < h1; u++) {
      if (a[u] <= 0) continue;
      const d = da[u];
      gradient[b1 + u] += d;
      const row = w1 + u * width;
      for (let i = 0; i < width; i++) gradient[row + i] += d * x[i];
    }
    return loss * weight;
  }
}

/** Adam (Kingma and Ba 2015) with its usual constants. */
export class Adam {
  private readonly first: Float64Array;
  private readonly second: Float64Array;
  private steps = 0;
  constructor(size: number) {
    this.first = new Float64Array(size);
    this.second = new Float64Array(size);
  }

  step(parameters: Float32Array, gradient: Float32Array, rate: number): void {
    this.steps++;
    const scale = (rate * Math.sqrt(1 - 0.999 ** this.steps)) / (1 - 0.9 ** this.steps);
    for (let i = 0; i < parameters.length; i++) {
      const g = gradient[i];
      this.first[i] += 0.1 * (g - this.first[i]);
      this.second[i] += 0.001 * (g * g - this.second[i]);
      parameters[i] -= (scale * this.first[i]) / (Math.sqrt(this.second[i]) + 1e-8);
    }
  }
}
