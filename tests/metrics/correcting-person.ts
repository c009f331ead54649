import type { Fix } from '../../shared/hear/heard.ts';
import type { Seconds } from '../../shared/math/units.ts';
import { matchWithin } from './matching.ts';

/** A beat is right when it is this near. */
export const near: Seconds = 0.04;

/** Shows the beats after one more fix; told in the order of the person's corrections. */
export type Correct = (fix: Fix) => readonly Seconds[];

export interface Corrections {
  readonly fixes: readonly Fix[];
  /** False where the person gave up: more corrections than there would be beats to set by hand. */
  readonly done: boolean;
}

/**
 * A scripted person who corrects beats from left to right until every true beat has a shown one within
 * 40 ms and none is left over. Each correction is one fix: the first true beat that is missing is set
 * (a shown beat beside it moves there with the same gesture), the first that is left over is struck out.
 *
 * @param truth where the beats are, rising
 * @param shown what is shown before any correction
 */
export function correctBeats(
  truth: readonly Seconds[],
  shown: readonly Seconds[],
  correct: Correct,
): Corrections {
  const fixes: Fix[] = [];
  let now = shown;
  for (;;) {
    const fix = nextFix(truth, now);
    if (!fix) return { fixes, done: true };
    if (fixes.length > 3 * truth.length + 20) return { fixes, done: false };
    fixes.push(fix);
    now = correct(fix);
  }
}

/** What the person does next, nothing when all is right. */
export function nextFix(truth: readonly Seconds[], shown: readonly Seconds[]): Fix | undefined {
  const pairs = matchWithin(truth, shown, near);
  const right = new Set(pairs.map(([i]) => i));
  const wanted = new Set(pairs.map(([, j]) => j));
  const missing = truth.findIndex((_, i) => !right.has(i));
  const extra = shown.findIndex((_, j) => !wanted.has(j));
  if (missing < 0 && extra < 0) return undefined;
  if (extra < 0) return { beat: truth[missing] };
  if (missing < 0) return { notBeat: shown[extra] };
  // Up to half a beat ahead of a missing beat, what is shown is that beat in the wrong place.
  const next = truth[missing + 1] ?? 2 * truth[missing] - (truth[missing - 1] ?? 0);
  const before = truth[missing - 1] ?? 2 * truth[missing] - next;
  const reach = Math.min(next - truth[missing], truth[missing] - before) / 2;
  return shown[extra] < truth[missing] - reach
    ? { notBeat: shown[extra] }
    : { beat: truth[missing] };
}
