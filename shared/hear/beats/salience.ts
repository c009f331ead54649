import { KernelRoom, ownKernels } from '../../math/kernel.ts';
import { type Net, netIn, Perceptron } from '../perceptron.ts';
import { CONTEXT, contextsOf } from './context.ts';
import { CUES } from './cues.ts';
import type { BeatEvidence } from './evidence.ts';
import { SUPPORTED, supportsOf } from './support.ts';
import { type Traits, traitsIn } from './traits.ts';
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

const known = new WeakMap<BeatEvidence, Traits>();

/** The onsets' cues and traits side by side, made once for a take. */
function traitsOf(evidence: BeatEvidence): Traits {
  const made = known.get(evidence) ?? measured(evidence);
  known.set(evidence, made);
  return made;
}

function measured(evidence: BeatEvidence): Traits {
  const { first, second } = taughtNets();
  const { times, cues } = evidence;
  const contexts = contextsOf(evidence);
  const odds = Float64Array.from(times, (_, i) => first.odds(contexts, i * CONTEXT));
  const looks = supportsOf(times, contexts, odds);
  const width = CUES + second.last.weights.length;
  const rows = new Float64Array(times.length * width);
  for (let i = 0; i < times.length; i++) {
    rows.set(cues.subarray(i * CUES, (i + 1) * CUES), i * width);
    rows.set(second.hidden(looks, i * SUPPORTED), i * width + CUES);
  }
  return traitsIn(rows, width);
}

/** Natural logs of odds end here. */
const SURE = 4;

const usual = new WeakMap<BeatEvidence, Float64Array>();

/** Log odds of a beat for each onset as it was taught, made once for a take. */
export function commonSaliences(evidence: BeatEvidence): Float64Array {
  const made = usual.get(evidence) ?? saliences(evidence, commonSalience());
  usual.set(evidence, made);
  return made;
}

/** Log odds of a beat for each onset. */
export function saliences(evidence: BeatEvidence, model: Salience): Float64Array {
  const odds = traitsOf(evidence).sums(model);
  for (let i = 0; i < odds.length; i++) odds[i] = Math.max(-SURE, Math.min(SURE, odds[i]));
  return odds;
}

/**
 * The weights refitted to onsets known to carry a beat or not (see `Traits.refitted`).
 *
 * @param judged 1 for a beat, 0 for none, 2 where nothing is known, from the first onset on; the last ones teach, as far
 * as they are known
 */
export function refitSalience(
  evidence: BeatEvidence,
  judged: Uint8Array,
  prior: Salience,
  tuning: Tuning,
): Salience {
  const first = judged.lastIndexOf(2) + 1;
  const last = prior.length - 1;
  const tight = prior.map(
    (_, c) => 1 / (c < CUES || c === last ? tuning.salienceLoose : tuning.traitLoose) ** 2,
  );
  const taught = judged.subarray(first);
  return traitsOf(evidence).refitted(first, taught, prior, tight, tuning.salienceForget);
}
