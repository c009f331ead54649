import type { Samples } from '../math/units.ts';
import type { Band } from './bands.ts';
import { Framer, makeSpectrum, powersOf, type Spectrum } from './spectrum.ts';
import type { Strip } from './strip.ts';

/**
 * How much sounds after a moment that did not sound before it, in one band: power of the frame after it
 * over twice what the frame before had there (or one bin beside), as a share of all power before. Notes
 * that beat against each other rise and fall together but bring nothing new, since the band's long
 * window tells them apart.
 *
 * @param lead the band's strips of the sum of all inputs
 * @param padding in full-rate samples, as the strips have it
 */
export class Newness {
  private readonly framer: Framer;
  private readonly before: Float64Array;
  private readonly after: Float64Array;
  private readonly spectra: Spectrum[];

  constructor(
    private readonly band: Band,
    private readonly lead: readonly Strip[],
    private readonly padding: Samples,
  ) {
    this.framer = new Framer(band.window);
    this.before = new Float64Array(band.window / 2 + 1);
    this.spectra = lead.map(() => makeSpectrum(band.window));
    this.after = new Float64Array(band.window / 2 + 1);
  }

  /** 0 where nothing is new; above 1 where more is new than was there. */
  at(moment: Samples): number {
    const { framer, before, after, spectra, lead, band } = this;
    const at = Math.round((moment + this.padding) / band.decimation);
    const look = (first: number, power: Float64Array): void => {
      lead.forEach((pair, p) => {
        framer.analyse(pair, first, Number.POSITIVE_INFINITY, spectra[p]);
      });
      powersOf(spectra, power);
    };
    look(at - framer.size, before);
    look(at, after);
    let fresh = 0;
    let old = 0;
    for (let k = 0; k < after.length; k++) {
      const was = Math.max(before[k - 1] ?? 0, before[k], before[k + 1] ?? 0);
      fresh += Math.max(0, after[k] - 2 * was);
      old += before[k];
    }
    return fresh > 0 ? fresh / Math.max(old, fresh * 1e-6) : 0;
  }
}
