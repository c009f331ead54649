import { countBars } from './bars.ts';
import type { BeatEvidence } from './beat-evidence.ts';
import { fixBeats, startBeats } from './beat-fixes.ts';
import type { BeatState } from './beat-state.ts';
import type { Beat, Fix } from './heard.ts';

export { type BeatEvidence, gatherBeatEvidence } from './beat-evidence.ts';

/**
 * Beats of a take, with what the user corrected. The fixes are taken in the order given, each seen
 * against the beats shown after the ones before it.
 *
 * @returns beats in rising order; none where no beat can be heard and none was set
 */
export function inferBeats(evidence: BeatEvidence, fixes: readonly Fix[]): Beat[] {
  let state = startBeats(evidence);
  for (const fix of fixes) state = fixBeats(evidence, state, fix);
  return shownBeats(state);
}

/** The beats of a state as they are shown. */
export function shownBeats(state: BeatState): Beat[] {
  const counts = countBars(state.times, state.ones);
  return state.times.map((time, i) => {
    const set = state.pinned.find((one) => one.time === time);
    return { time, confidence: set ? 1 : 0.5, count: counts[i], by: set?.by ?? 'heard' };
  });
}
