import { KernelRoom, ownKernels } from '../../math/kernel.ts';
import { type Net, netIn, Perceptron } from '../perceptron.ts';
import { CONTEXT, contextsOf } from './context.ts';
import { CUES } from './cues.ts';
import type { BeatEvidence } from './evidence.ts';
import { SUPPORTED, supportsOf } from './support.ts';
import type { Tuning } from './tuning.ts';
import { FIRST_SIGHT, SALIENCE } from './weights.ts';

/**
 * How likely an onset is to carry a beat: a weight for each of its cues, then for each trait that the
 * network finds in it and what is around it, then the constant.
 */
export type Salience = Float64Array;

let nets: { readonly first: Net; readonly second: Net } | undefined;

/** The networks for a first and a second look, as tests/bench/fit-beat-nets.ts taught them. */
function taughtNets() {
  nets ??= unpackedNets();
  return nets;
}

function unpackedNets() {
  const first = new Perceptron(FIRST_SIGHT);
  const second = new Perceptron(SALIENCE);
  const kernel = ownKernels();
  if (!kernel) return { first, second };
  const room = new KernelRoom(kernel);
  return { first: netIn(kernel, room, first), second: netIn(kernel, room, second) };
}

/** What was taught; the cues by themselves say nothing more until a user's beats show that they do. */
export function commonSalience(): Salience {
  const { weights, bias } = taughtNets().second.last;
  return Float64Array.from([...new Array<number>(CUES).fill(0), ...weights, bias]);
}

const known = new WeakMap<BeatEvidence, Float64Array>();

/** The onsets' traits, made once for a take. */
function traitsOf(evidence: BeatEvidence): Float64Array {
  const made = known.get(evidence);
  if (made) return made;
  const { first, second } = taughtNets();
  const { times } = evidence;
  const contexts = contextsOf(evidence);
  const odds = Float64Array.from(times, (_, i) => first.odds(contexts, i * CONTEXT));
  const looks = supportsOf(times, contexts, odds);
  const traits = second.last.weights.length;
  const all = new Float64Array(times.length * traits);
  for (let i = 0; i < times.length; i++) all.set(second.hidden(looks, i * SUPPORTED), i * traits);
  known.set(evidence, all);
  return all;
}

/** Natural logs of odds end here. */
const SURE = 4;

/** Log odds of a beat for each onset. */
export function saliences(evidence: BeatEvidence, model: Salience): Float64Array {
  const traits = traitsOf(evidence);
  return Float64Array.from(evidence.times, (_, i) =>
    Math.max(-SURE, Math.min(SURE, sumOf(evidence.cues, traits, model, i))),
  );
}

function sumOf(cues: Float64Array, traits: Float64Array, model: Salience, i: number): number {
  const all = model.length - 1;
  const many = all - CUES;
  let sum = model[all];
  for (let c = 0; c < CUES; c++) sum += model[c] * cues[i * CUES + c];
  for (let c = 0; c < many; c++) sum += model[CUES + c] * traits[i * many + c];
  return sum;
}

/**
 * The weights refitted to onsets known to carry a beat or not: the most likely ones under a normal
 * prior around `prior` (gradient steps with a diagonal second derivative, a few are enough since they
 * start from the last fit).
 *
 * @param judged 1 for a beat, 0 for none, 2 where nothing is known, from the first onset on
 */
export function refitSalience(
  evidence: BeatEvidence,
  judged: Uint8Array,
  prior: Salience,
  tuning: Tuning,
): Salience {
  const model = Float64Array.from(prior);
  const { cues } = evidence;
  const traits = traitsOf(evidence);
  const all = prior.length - 1;
  const many = all - CUES;
  // The onsets that teach, the last one first, with all that is known of each side by side.
  const taught: number[] = [];
  for (let i = judged.length - 1; i >= 0 && judged[i] < 2; i--) taught.push(i);
  const rows = new Float64Array(taught.length * all);
  for (const [row, i] of taught.entries()) {
    rows.set(cues.subarray(i * CUES, (i + 1) * CUES), row * all);
    rows.set(traits.subarray(i * many, (i + 1) * many), row * all + CUES);
  }
  const slope = new Float64Array(all + 1);
  const bend = new Float64Array(all + 1);
  const tight = prior.map(
    (_, c) => 1 / (c < CUES || c === all ? tuning.salienceLoose : tuning.traitLoose) ** 2,
  );
  for (let round = 0; round < 12; round++) {
    for (let c = 0; c <= all; c++) {
      slope[c] = (prior[c] - model[c]) * tight[c];
      bend[c] = tight[c];
    }
    let weight = 1;
    for (let row = 0; row < taught.length; row++) {
      const at = row * all;
      let sum = model[all];
      for (let c = 0; c < all; c++) sum += model[c] * rows[at + c];
      const likely = 1 / (1 + Math.exp(-sum));
      const miss = (judged[taught[row]] - likely) * weight;
      const width = likely * (1 - likely) * weight;
      for (let c = 0; c < all; c++) {
        const one = rows[at + c];
        slope[c] += miss * one;
        bend[c] += width * one * one;
      }
      slope[all] += miss;
      bend[all] += width;
      weight *= tuning.salienceForget;
    }
    for (let c = 0; c <= all; c++) model[c] += (0.5 * slope[c]) / bend[c];
  }
  return model;
}
