import type { Beat, Fix } from '../heard.ts';
import { confidences } from './confidence.ts';
import { countsOf } from './counts.ts';
import type { BeatEvidence } from './evidence.ts';
import { fixBeats, startBeats } from './fixes.ts';
import { likenessOf } from './likeness.ts';
import type { BeatState } from './state.ts';

export { type BeatEvidence, freshAt, gatherBeatEvidence } from './evidence.ts';
export { fixBeats, startBeats } from './fixes.ts';
export type { BeatState } from './state.ts';

/**
 * Beats of a take, with what the user corrected. The fixes are taken in the order given, each seen
 * against the beats shown after the ones before it. The last few results are kept with the evidence, so
 * that one fix more costs one inference.
 *
 * @returns beats in rising order; none where no beat can be heard and none was set
 */
export function inferBeats(evidence: BeatEvidence, fixes: readonly Fix[]): Beat[] {
  const known = recent.get(evidence) ?? [];
  const keys = fixes.map((fix) => JSON.stringify(fix));
  // The longest of the last lists that begins this one: one more fix, or one less, is one step.
  const base = known
    .filter((one) => one.keys.length <= keys.length && one.keys.every((key, i) => key === keys[i]))
    .reduce<Known | undefined>((a, b) => (a && a.keys.length >= b.keys.length ? a : b), undefined);
  let state = base?.state ?? startOf(evidence);
  const made: Known[] = [];
  for (let i = base?.keys.length ?? 0; i < fixes.length; i++) {
    state = fixBeats(evidence, state, fixes[i]);
    made.push({ keys: keys.slice(0, i + 1), state });
  }
  recent.set(evidence, [...known, ...made].slice(-KEPT));
  return shownBeats(evidence, state);
}

/**
 * Makes what the first fix needs and no other changes, so that the user does not wait for it. It is kept
 * with the evidence; without this call the first fix makes it. One fix is tried, too, and forgotten: a machine runs
 * at half the speed what it has never run before.
 */
export function prepareFixes(evidence: BeatEvidence): void {
  likenessOf(evidence);
  const state = startOf(evidence);
  const { times } = state;
  if (times.length <= TRIED) return;
  const beat = (times[TRIED - 1] + times[TRIED]) / 2;
  shownBeats(evidence, fixBeats(evidence, state, { beat }));
}

/** A beat is tried before this one: with some confirmed before it, all that a fix may ask is asked. */
const TRIED = 4;

/** The beats before any fix, inferred once for a take. */
function startOf(evidence: BeatEvidence): BeatState {
  const made = starts.get(evidence) ?? startBeats(evidence);
  starts.set(evidence, made);
  return made;
}

const starts = new WeakMap<BeatEvidence, BeatState>();

interface Known {
  readonly keys: readonly string[];
  readonly state: BeatState;
}

/** States of the last calls, so that a page that shows each fix at once waits for that one only. */
const KEPT = 8;
const recent = new WeakMap<BeatEvidence, readonly Known[]>();

/** The beats of a state as they are shown. */
export function shownBeats(evidence: BeatEvidence, state: BeatState): Beat[] {
  const { times } = state;
  const counts = countsOf(evidence, state);
  const sure = confidences(evidence, state);
  const by = new Map(state.pinned.map((one) => [one.time, one.by]));
  return times.map((time, i) => ({
    time,
    confidence: sure[i],
    count: counts[i],
    by: by.get(time) ?? 'heard',
  }));
}
