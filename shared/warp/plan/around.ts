import { lastingKernels } from '../../math/kernel-fft.ts';
import { type LentDoubles, takeDoubles } from '../../math/kernel-places.ts';
import type { Samples } from '../../math/units.ts';
import type { Band } from '../bands/bands.ts';
import { Framer, Spectra } from '../bands/spectrum.ts';
import type { Strip } from '../bands/strip.ts';
import { newness } from './newness.ts';

/** Powers of the frame that ends at a moment and of the one that begins there, at each bin of the band's window. */
export interface Around {
  readonly before: Float64Array;
  readonly after: Float64Array;
}

/** Bins on each side over which powers are summed: between them a partial counts as one. */
const reach = 2;

/** Looks at what sounds around moments of one band; what was asked for last is kept, since most is asked for twice. */
export class Surroundings {
  readonly size: Samples;
  private readonly framer: Framer;
  private readonly spectra: Spectra;
  private readonly before: LentDoubles;
  private readonly after: LentDoubles;
  private readonly sums: LentDoubles;
  private moment = Number.NaN;

  /**
   * @param lead the band's strips of the sum of all inputs
   * @param padding in full-rate samples, as the strips have it
   * @param plain for the plain form, whatever the machine has; the other gives the same to the last bit
   */
  constructor(
    readonly band: Band,
    private readonly lead: readonly Strip[],
    private readonly padding: Samples,
    plain = false,
  ) {
    this.size = band.window;
    this.framer = new Framer(this.size, plain);
    this.spectra = new Spectra(lead.length, this.size, plain);
    this.before = takeDoubles(this.size / 2 + 1, plain);
    this.after = takeDoubles(this.size / 2 + 1, plain);
    this.sums = takeDoubles(this.size / 2 + 1, plain);
  }

  /** Leaves its memory to others. */
  leave(): void {
    for (const part of [this.spectra, this.before, this.after, this.sums]) part.leave();
  }

  /** What sounds around a moment of the source (full-rate samples); it counts until the next one is asked for. */
  at(moment: Samples): Around {
    this.visit(moment);
    return { before: this.before.values, after: this.after.values };
  }

  /** The same with powers summed over a few bins each, so that a partial counts as one; the caller's to keep. */
  wideAt(moment: Samples): Around {
    this.visit(moment);
    return { before: this.widened(this.before), after: this.widened(this.after) };
  }

  /** How much is new after a moment of the source (full-rate samples); see `newness`. */
  newnessAt(moment: Samples): number {
    this.visit(moment);
    return newness(this.before, this.after);
  }

  private widened(power: LentDoubles): Float64Array {
    const { sums } = this;
    const { length } = power.values;
    const kernel = lastingKernels()?.kernel;
    if (kernel && power.at !== undefined && sums.at !== undefined) {
      kernel.neighboursSummed(power.at, length, reach, sums.at);
      return sums.values.slice();
    }
    return power.values.map((_, k, powers) => {
      const end = Math.min(length - 1, k + reach);
      let sum = 0;
      for (let i = Math.max(0, k - reach); i <= end; i++) sum += powers[i];
      return sum;
    });
  }

  private visit(moment: Samples): void {
    if (moment === this.moment) return;
    const at = Math.round((moment + this.padding) / this.band.decimation);
    this.look(at - this.size, this.before);
    this.look(at, this.after);
    this.moment = moment;
  }

  private look(first: Samples, power: LentDoubles): void {
    const { framer, lead, spectra } = this;
    for (let p = 0; p < lead.length; p++)
      framer.analyse(lead[p], first, Number.POSITIVE_INFINITY, spectra.pairs[p]);
    spectra.powers(power);
  }
}
