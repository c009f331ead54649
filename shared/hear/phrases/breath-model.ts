/** A network of one hidden layer: cues scaled to mean 0 and spread 1, tanh, log odds. */
export interface BreathModel {
  readonly means: readonly number[];
  readonly spreads: readonly number[];
  /** A row for each cue, a column for each hidden unit. */
  readonly inner: readonly number[];
  readonly innerBiases: readonly number[];
  readonly outer: readonly number[];
  readonly bias: number;
}

/** Cues beyond this many spreads count as that. */
const farthest = 4;

export function scaledCues(
  cues: readonly number[],
  means: readonly number[],
  spreads: readonly number[],
): number[] {
  return cues.map((cue, k) => {
    const scaled = (cue - means[k]) / (spreads[k] || 1);
    return Math.max(-farthest, Math.min(farthest, scaled));
  });
}

/** Log odds that a phrase begins at an attack with these cues. */
export function breathOdds(cues: readonly number[], model: BreathModel): number {
  const { means, spreads, inner, innerBiases, outer, bias } = model;
  const scaled = scaledCues(cues, means, spreads);
  return outer.reduce((odds, weight, h) => {
    const sum = scaled.reduce(
      (total, cue, k) => total + inner[k * outer.length + h] * cue,
      innerBiases[h],
    );
    return odds + weight * Math.tanh(sum);
  }, bias);
}
