import type { Doubles } from '../../math/kernel-places.ts';
import type { Share } from '../../math/units.ts';
import { strongPeaks } from '../bands/peaks.ts';

/** Bins up to which two partials stand too close for a window half as long, whose lobes are twice as wide. */
const close = 7;
/** Share of the strongest partial's power from which a partial counts, and of a partial's from which another one near it blurs it. */
const audible = 1e-3;
const blurs = 0.04;

/**
 * Share of a spectrum's partials (by magnitude) that a window half as long could not tell from their
 * neighbours: their lobes would run into each other, and what is locked to a peak would go on with
 * the frequency of neither.
 *
 * @param spectrum power at each bin, over all channels
 */
export function crowding(spectrum: Doubles): Share {
  const peaks = strongPeaks(spectrum, 0, spectrum.values.length, audible);
  const power = spectrum.values;
  let all = 0;
  let crowded = 0;
  let last = -1;
  let lastCrowded = false;
  for (const k of peaks) {
    const size = Math.sqrt(power[k]);
    const near = last >= 0 && k - last <= close;
    if (near && !lastCrowded && power[k] > blurs * power[last]) crowded += Math.sqrt(power[last]);
    lastCrowded = near && power[last] > blurs * power[k];
    if (lastCrowded) crowded += size;
    all += size;
    last = k;
  }
  return all > 0 ? crowded / all : 0;
}
