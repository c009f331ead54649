import type { Join } from './join.ts';
import { isPeak } from './lock.ts';
import { powersOf, setTurn, type Turns } from './spectrum.ts';

/** A peak is held over if its power before the attack was at least this share of that after it. */
const share = 0.7;
/** Bins on each side of a held peak that go with it. */
const reach = 3;

/**
 * Partials that sounded before an attack as strongly as after it go on with the phase they have in the
 * result: the turn that brings the source just before the attack to what was written there. All else
 * starts anew, as recorded. Sets `turns` and says whether there are any.
 */
export function holdPartials({ size, before, after, sounding }: Join, turns: Turns): boolean {
  const half = size / 2;
  const was = new Float64Array(half + 1);
  const is = new Float64Array(half + 1);
  powersOf(before.pairs, was);
  powersOf(after.pairs, is);
  let any = false;
  for (let k = 2; k < half - 2; k++) {
    if (!isPeak(is, k) || Math.max(was[k - 1], was[k], was[k + 1]) < share * is[k]) continue;
    setTurn(before.pairs, sounding.pairs, k, turns, k);
    for (let i = Math.max(0, k - reach); i <= Math.min(half, k + reach); i++) {
      turns.re[i] = turns.re[k];
      turns.im[i] = turns.im[k];
    }
    any = true;
  }
  return any;
}
