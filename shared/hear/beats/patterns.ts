import { PART_RATES, PARTS, type Tuning } from './tuning.ts';

const INNER = PARTS - 1;
const MASKS = 1 << INNER;

/** Which of the inner parts of a beat hold an onset, as bits: bit 0 is the first part after the beat. */
export type Mask = number;

/** How likely a beat is filled as it is; made from the patterns of confirmed beats. */
export interface PatternModel {
  /** Natural log of the likelihood of each mask. */
  readonly logs: Float64Array;
  /** How much it counts. */
  readonly weight: number;
}

/**
 * What has been learned of how beats are filled: a Dirichlet mixture of whole patterns over a prior
 * in which the parts are independent.
 *
 * @param masks patterns of confirmed beats, oldest first
 */
export function learnPatterns(masks: readonly Mask[], tuning: Tuning): PatternModel {
  const rates = Float64Array.from(PART_RATES);
  let weight = 1;
  let total = 0;
  const counts = new Map<Mask, number>();
  const filled = new Float64Array(INNER);
  for (let i = masks.length - 1; i >= 0; i--) {
    countAround(counts, masks[i], weight, tuning);
    for (let part = 0; part < INNER; part++) if (masks[i] & (1 << part)) filled[part] += weight;
    total += weight;
    weight *= tuning.forget;
  }
  for (let part = 0; part < INNER; part++) {
    const prior = tuning.patternHalf;
    rates[part] = (filled[part] + prior * PART_RATES[part]) / (total + prior);
  }
  const logs = new Float64Array(MASKS);
  const yes = rates.map((rate) => Math.log(rate));
  const no = rates.map((rate) => Math.log(1 - rate));
  const prior = tuning.patternPrior;
  const share = prior / (total + prior);
  for (let mask = 0; mask < MASKS; mask++) {
    let sum = 0;
    for (let part = 0; part < INNER; part++) sum += mask & (1 << part) ? yes[part] : no[part];
    logs[mask] = sum;
    if (total > 0) logs[mask] += Math.log(share);
  }
  for (const [mask, count] of counts)
    logs[mask] = Math.log(Math.exp(logs[mask]) + count / (total + prior));
  const known = total / (total + tuning.patternHalf);
  return {
    logs,
    weight: tuning.patternWeight + (tuning.patternWeightKnown - tuning.patternWeight) * known,
  };
}

/** The pattern of onsets in one beat; onsets next to either end belong to the beats there. */
export function maskOf(
  times: Float64Array,
  from: number,
  until: number,
  start: number,
  length: number,
): Mask {
  let mask = 0;
  const parts = PARTS;
  for (let i = from; i < until; i++) {
    const part = Math.round(((times[i] - start) / length) * parts);
    if (part > 0 && part < parts) mask |= 1 << (part - 1);
  }
  return mask;
}

/** Counts a pattern, and with a share of the weight all that have one onset more or less than it. */
function countAround(counts: Map<Mask, number>, mask: Mask, weight: number, tuning: Tuning): void {
  const add = (one: Mask, share: number) => counts.set(one, (counts.get(one) ?? 0) + share);
  add(mask, weight * (1 - tuning.patternBlur));
  for (let part = 0; part < INNER; part++)
    add(mask ^ (1 << part), (weight * tuning.patternBlur) / INNER);
}
