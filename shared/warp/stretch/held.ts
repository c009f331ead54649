import { takeDoubles } from '../../math/kernel-places.ts';
import { strongPeaks } from '../bands/peaks.ts';
import { Spectra, setTurn, type Turns } from '../bands/spectrum.ts';
import type { Join } from './join.ts';

/** A peak is held over if its power before the attack was at least this share of that after it. */
const share = 0.7;
/** Bins on each side of a held peak that go with it. */
const reach = 3;
/**
 * A peak that exceeds its neighbours by less than the first, or that share by less than the second, is held in part: what a
 * stored mix was rounded by must not decide whether it is.
 */
const clear = { peak: 0.05, held: 0.1 };

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
  const work = new Spectra(1, 1);
  const [found] = work.pairs;
  // Views last once all memory is taken: as it grows they go empty.
  const [was, is] = powers.map(({ values }) => values);
  let any = false;
  for (const k of peaks) {
    const kept = Math.max(was[k - 1], was[k], was[k + 1]) / (share * is[k]) - 1;
    const over = is[k] / Math.max(is[k - 2], is[k - 1], is[k + 1], is[k + 2]) - 1;
    const say = Math.min(1, kept / clear.held) * Math.min(1, over / clear.peak);
    if (!(say > 0)) continue;
    setTurn(before, sounding, k, found, 0);
    for (let i = Math.max(0, k - reach); i <= Math.min(half, k + reach); i++) {
      const re = turns.re[i] + say * (found.re[0] - turns.re[i]);
      const im = turns.im[i] + say * (found.im[0] - turns.im[i]);
      const length = Math.sqrt(re * re + im * im);
      if (length === 0) continue;
      turns.re[i] = re / length;
      turns.im[i] = im / length;
    }
    any = true;
  }
  work.leave();
  for (const power of powers) power.leave();
  return any;
}
