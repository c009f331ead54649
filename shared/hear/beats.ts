import { barAccents, countBars } from './bars.ts';
import { confidences } from './beat-confidence.ts';
import type { BeatEvidence } from './beat-evidence.ts';
import { fixBeats, startBeats } from './beat-fixes.ts';
import type { BeatState } from './beat-state.ts';
import type { Beat, Fix } from './heard.ts';

export { type BeatEvidence, gatherBeatEvidence } from './beat-evidence.ts';
export { fixBeats, startBeats } from './beat-fixes.ts';
export type { BeatState } from './beat-state.ts';

/**
 * Beats of a take, with what the user corrected. The fixes are taken in the order given, each seen
 * against the beats shown after the ones before it. Who keeps the state of the last call
 * (`startBeats`, `fixBeats`, `shownBeats`) needs to infer only once for each new fix.
 *
 * @returns beats in rising order; none where no beat can be heard and none was set
 */
export function inferBeats(evidence: BeatEvidence, fixes: readonly Fix[]): Beat[] {
  let state = startBeats(evidence);
  for (const fix of fixes) state = fixBeats(evidence, state, fix);
  return shownBeats(evidence, state);
}

/** The beats of a state as they are shown. */
export function shownBeats(evidence: BeatEvidence, state: BeatState): Beat[] {
  const { times } = state;
  const counts = countBars(times, state.ones, barAccents(evidence, times));
  const sure = confidences(evidence, state);
  const by = new Map(state.pinned.map((one) => [one.time, one.by]));
  return times.map((time, i) => ({
    time,
    confidence: sure[i],
    count: counts[i],
    by: by.get(time) ?? 'heard',
  }));
}
