import { type LentDoubles, takeDoubles } from '../math/kernel-places.ts';
import type { Samples } from '../math/units.ts';
import type { Band } from './bands.ts';
import { newness } from './newness.ts';
import { Framer, Spectra } from './spectrum.ts';
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
  private readonly spectra: Spectra;
  private readonly before: LentDoubles;
  private readonly after: LentDoubles;
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
  }

  /** Leaves its memory to others. */
  leave(): void {
    for (const part of [this.spectra, this.before, this.after]) part.leave();
  }

  /** What sounds around a moment of the source (full-rate samples); it counts until the next one is asked for. */
  at(moment: Samples): Around {
    this.visit(moment);
    return { before: this.before.values, after: this.after.values };
  }

  /** How much is new after a moment of the source (full-rate samples); see `newness`. */
  newnessAt(moment: Samples): number {
    this.visit(moment);
    return newness(this.before, this.after);
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
