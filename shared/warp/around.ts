import type { Samples } from '../math/units.ts';
import type { Band } from './bands.ts';
import { Framer, makeSpectrum, powersOf, type Spectrum } from './spectrum.ts';
import type { Strip } from './strip.ts';

/** Powers of the frame that ends at a moment and of the one that begins there, at each bin of the band's window. */
export interface Around {
  readonly before: Float64Array;
  readonly after: Float64Array;
}

/** Looks at what sounds around moments of one band; what was asked for last is kept, since most is asked for twice. */
export class Surroundings {
  readonly size: Samples;
  private readonly framer: Framer;
  private readonly spectra: Spectrum[];
  private moment = Number.NaN;
  private found: Around;

  /**
   * @param lead the band's strips of the sum of all inputs
   * @param padding in full-rate samples, as the strips have it
   */
  constructor(
    readonly band: Band,
    private readonly lead: readonly Strip[],
    private readonly padding: Samples,
  ) {
    this.size = band.window;
    this.framer = new Framer(this.size);
    this.spectra = lead.map(() => makeSpectrum(this.size));
    const make = () => new Float64Array(this.size / 2 + 1);
    this.found = { before: make(), after: make() };
  }

  /** What sounds around a moment of the source (full-rate samples); it counts until the next one is asked for. */
  at(moment: Samples): Around {
    if (moment !== this.moment) {
      const at = Math.round((moment + this.padding) / this.band.decimation);
      this.look(at - this.size, this.found.before);
      this.look(at, this.found.after);
      this.moment = moment;
    }
    return this.found;
  }

  private look(first: Samples, power: Float64Array): void {
    const { framer, lead, spectra } = this;
    lead.forEach((strip, p) => {
      framer.analyse(strip, first, Number.POSITIVE_INFINITY, spectra[p]);
    });
    powersOf(spectra, power);
  }
}
