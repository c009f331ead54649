import type { Samples, Share } from '../math/units.ts';
import type { Band } from './bands.ts';
import { Framer, makeSpectrum, powersOf, type Spectrum } from './spectrum.ts';
import type { Strip } from './strip.ts';

/**
 * How little the spectrum of one band changes: cosines between the magnitudes of frames that follow each
 * other without overlap, every half window. 1 where nothing moves. Sound that only dies away is steady,
 * vibrato is not. Taken down as the source goes by, so that nothing has to be looked at again.
 */
export class Steadiness {
  private readonly framer: Framer;
  private readonly hop: Samples;
  private readonly spectra: Spectrum[];
  private readonly powers: readonly Float64Array[];
  private readonly cosines: number[] = [];
  private frames = 0;

  /**
   * @param lead the band's strips of the sum of all inputs
   * @param padding in full-rate samples, as the strips have it
   */
  constructor(
    private readonly band: Band,
    private readonly lead: readonly Strip[],
    private readonly padding: Samples,
  ) {
    this.framer = new Framer(band.window);
    this.hop = band.window / 2;
    this.spectra = lead.map(() => makeSpectrum(band.window));
    this.powers = [0, 1, 2].map(() => new Float64Array(band.window / 2 + 1));
  }

  /** Takes down all frames that end before a moment (full-rate samples). */
  advance(to: Samples): void {
    const { band, framer, hop, lead, powers, spectra } = this;
    while (this.frames * hop + framer.size <= to / band.decimation) {
      const first = this.frames * hop + this.padding / band.decimation;
      lead.forEach((strip, p) => {
        framer.analyse(strip, first, Number.POSITIVE_INFINITY, spectra[p]);
      });
      const power = powers[this.frames % 3];
      powersOf(spectra, power);
      if (this.frames >= 2) this.cosines.push(cosine(powers[(this.frames - 2) % 3], power));
      this.frames++;
    }
  }

  /**
   * Least and middle one of the cosines between two moments (full-rate samples) that `advance` has
   * passed; `least` is 0 and `usual` undefined where they lie too close together for two frames.
   */
  between(from: Samples, to: Samples): { least: Share; usual: Share | undefined } {
    const { band, framer, hop } = this;
    const first = Math.max(0, Math.ceil(from / band.decimation / hop));
    const last = Math.floor((to / band.decimation - 2 * framer.size) / hop);
    const sorted = this.cosines.slice(first, Math.max(first, last + 1)).sort((a, b) => a - b);
    return { least: sorted[0] ?? 0, usual: sorted[sorted.length >> 1] };
  }
}

/** Between the magnitudes of two power spectra. */
function cosine(a: Float64Array, b: Float64Array): number {
  let ab = 0;
  let aa = 1e-30;
  let bb = 1e-30;
  for (let k = 0; k < a.length; k++) {
    ab += Math.sqrt(a[k] * b[k]);
    aa += a[k];
    bb += b[k];
  }
  return ab / Math.sqrt(aa * bb);
}
