import { type BreathModel, scaledCues } from '../../../shared/hear/phrases/breath-model.ts';
import { Chance } from '../../perform/chance.ts';

const hidden = 8;
const epochs = 40;
const batch = 512;
const decay = 2e-3;

/** Adam's running means of one list of numbers (Kingma and Ba 2015, algorithm 1). */
class Adam {
  private readonly first: Float64Array;
  private readonly second: Float64Array;
  private steps = 0;

  constructor(readonly values: Float64Array) {
    this.first = new Float64Array(values.length);
    this.second = new Float64Array(values.length);
  }

  step(gradient: Float64Array, rate: number): void {
    this.steps++;
    for (let i = 0; i < this.values.length; i++) {
      this.first[i] = 0.9 * this.first[i] + 0.1 * gradient[i];
      this.second[i] = 0.999 * this.second[i] + 0.001 * gradient[i] ** 2;
      const mean = this.first[i] / (1 - 0.9 ** this.steps);
      const power = this.second[i] / (1 - 0.999 ** this.steps);
      this.values[i] -= (rate * mean) / (Math.sqrt(power) + 1e-8);
    }
  }
}

/** How many are taught and joined into one, which is steadier than each. */
const joined = 6;

/** Teaches a model which rows of cues begin a phrase. Seeded: the same rows give the same model. */
export function teach(
  rows: readonly (readonly number[])[],
  begins: readonly boolean[],
): BreathModel {
  const models = Array.from({ length: joined }, (_, n) => teachOne(rows, begins, n + 5));
  return {
    means: models[0].means,
    spreads: models[0].spreads,
    inner: models[0].means.flatMap((_, k) =>
      models.flatMap((model) => model.inner.slice(k * hidden, (k + 1) * hidden)),
    ),
    innerBiases: models.flatMap((model) => model.innerBiases),
    outer: models.flatMap((model) => model.outer.map((weight) => weight / joined)),
    bias: models.reduce((sum, model) => sum + model.bias / joined, 0),
  };
}

function teachOne(
  rows: readonly (readonly number[])[],
  begins: readonly boolean[],
  seed: number,
): BreathModel {
  const width = rows[0].length;
  const means = Array.from({ length: width }, (_, k) =>
    rows.reduce((sum, row) => sum + row[k] / rows.length, 0),
  );
  const spreads = means.map((mean, k) =>
    Math.sqrt(rows.reduce((sum, row) => sum + (row[k] - mean) ** 2 / rows.length, 0)),
  );
  const scaled = rows.map((row) => scaledCues(row, means, spreads));
  const chance = new Chance(seed);
  const random = (count: number, deviation: number) =>
    Float64Array.from({ length: count }, () => chance.normal(0, deviation));
  // Inner weights, inner biases, outer weights, bias.
  const starts = [
    random(width * hidden, 1 / Math.sqrt(width)),
    new Float64Array(hidden),
    random(hidden, 1 / Math.sqrt(hidden)),
    Float64Array.of(-4),
  ];
  const [inner, innerBiases, outer, bias] = starts.map((values) => new Adam(values));
  const order = rows.map((_, i) => i);
  let rate = 0.01;
  for (let epoch = 0; epoch < epochs; epoch++) {
    for (let i = order.length - 1; i > 0; i--) {
      const j = chance.whole(0, i);
      [order[i], order[j]] = [order[j], order[i]];
    }
    for (let from = 0; from < order.length; from += batch) {
      const some = order.slice(from, from + batch);
      const [gInner, gInnerBiases, gOuter, gBias] = starts.map((v) => new Float64Array(v.length));
      const heights = new Float64Array(hidden);
      for (const n of some) {
        const row = scaled[n];
        let odds = bias.values[0];
        for (let h = 0; h < hidden; h++) {
          let sum = innerBiases.values[h];
          for (let k = 0; k < width; k++) sum += inner.values[k * hidden + h] * row[k];
          heights[h] = Math.tanh(sum);
          odds += outer.values[h] * heights[h];
        }
        const error = (1 / (1 + Math.exp(-odds)) - (begins[n] ? 1 : 0)) / some.length;
        gBias[0] += error;
        for (let h = 0; h < hidden; h++) {
          gOuter[h] += error * heights[h];
          const through = error * outer.values[h] * (1 - heights[h] ** 2);
          gInnerBiases[h] += through;
          for (let k = 0; k < width; k++) gInner[k * hidden + h] += through * row[k];
        }
      }
      for (let i = 0; i < gInner.length; i++) gInner[i] += decay * inner.values[i];
      for (let h = 0; h < hidden; h++) gOuter[h] += decay * outer.values[h];
      inner.step(gInner, rate);
      innerBiases.step(gInnerBiases, rate);
      outer.step(gOuter, rate);
      bias.step(gBias, rate);
    }
    rate *= 0.985;
  }
  return {
    means,
    spreads,
    inner: Array.from(inner.values),
    innerBiases: Array.from(innerBiases.values),
    outer: Array.from(outer.values),
    bias: bias.values[0],
  };
}
