import { takeDoubles } from '../math/kernel-places.ts';
import type { Join } from './join.ts';
import { strongPeaks } from './peaks.ts';
import { setTurn, type Turns } from './spectrum.ts';

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
  const powers = [before, after].map((spectra) => {
    const power = takeDoubles(half + 1);
    spectra.powers(power);
    return power;
  });
  const peaks = strongPeaks(powers[1], 2, half - 2, 0);
  const [was, is] = powers.map(({ values }) => values);
  let any = false;
  for (const k of peaks) {
    if (Math.max(was[k - 1], was[k], was[k + 1]) < share * is[k]) continue;
    setTurn(before, sounding, k, turns, k);
    for (let i = Math.max(0, k - reach); i <= Math.min(half, k + reach); i++) {
      turns.re[i] = turns.re[k];
      turns.im[i] = turns.im[k];
    }
    any = true;
  }
  for (const power of powers) power.leave();
  return any;
}
