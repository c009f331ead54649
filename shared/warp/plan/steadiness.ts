import { lastingKernels } from '../../math/kernel-fft.ts';
import { type Doubles, type LentDoubles, takeDoubles } from '../../math/kernel-places.ts';
import type { Cents, Samples, Share } from '../../math/units.ts';
import type { Band } from '../bands/bands.ts';
import { Framer, Spectra } from '../bands/spectrum.ts';
import type { Strip } from '../bands/strip.ts';
import { crowding } from './crowding.ts';
import { type Motion, together, Vibrato } from './vibrato.ts';
import { middle } from './weighted-median.ts';

/** Frames by which vibrato is told: a slow swing is as long as these. */
const fewest = 6;

/**
 * Power (share of the loudest frame so far) at which a frame says half of what it shows: what is far softer is silence to
 * all ears, as fades end in, and what it was rounded by must not tell whether it moves.
 */
const silent = 1e-6;

/** How steady sound is between two moments. */
export interface Steady {
  /** Least and middle one of the cosines; 0 and undefined where the moments lie too close together for two frames. */
  readonly least: Share;
  readonly usual: Share | undefined;
  /** How far partials move together in half a window. */
  readonly vibrato: Cents;
  /** Share of partials too close together for a shorter window, middle one. */
  readonly crowded: Share;
}

/**
 * How little the spectrum of one band changes: cosines between the magnitudes of frames that follow each
 * other without overlap, every half window. 1 where nothing moves. Sound that only dies away is steady,
 * vibrato is not. Taken down as the source goes by, so that nothing has to be looked at again.
 */
export class Steadiness {
  private readonly framer: Framer;
  private readonly hop: Samples;
  private spectra: Spectra;
  private before: Spectra;
  private readonly powers: readonly LentDoubles[];
  private readonly cosines: number[] = [];
  private readonly vibrato: Vibrato;
  private readonly motions: Motion[] = [];
  private readonly crowdings: Share[] = [];
  private frames = 0;
  private loudest = 0;
  /** What each frame says. */
  private readonly says: Share[] = [];

  /**
   * @param lead the band's strips of the sum of all inputs
   * @param padding in full-rate samples, as the strips have it
   * @param plain for the plain form, whatever the machine has; the other gives the same to the last bit
   */
  constructor(
    private readonly band: Band,
    private readonly lead: readonly Strip[],
    private readonly padding: Samples,
    plain = false,
  ) {
    this.framer = new Framer(band.window, plain);
    this.vibrato = new Vibrato(plain);
    this.hop = band.window / 2;
    this.spectra = new Spectra(lead.length, band.window, plain);
    this.before = new Spectra(lead.length, band.window, plain);
    this.spectra.clear();
    this.powers = [0, 1, 2].map(() => takeDoubles(band.window / 2 + 1, plain));
  }

  /** Leaves its memory to others; what was found stays. */
  leave(): void {
    const { spectra, before, powers, vibrato } = this;
    for (const part of [spectra, before, vibrato, ...powers]) part.leave();
  }

  /** Takes down all frames that end before a moment (full-rate samples). */
  advance(to: Samples): void {
    const { band, framer, hop, lead, powers } = this;
    while (this.frames * hop + framer.size <= to / band.decimation) {
      const first = this.frames * hop + this.padding / band.decimation;
      const spectra = this.before;
      this.before = this.spectra;
      this.spectra = spectra;
      for (let p = 0; p < lead.length; p++)
        framer.analyse(lead[p], first, Number.POSITIVE_INFINITY, spectra.pairs[p]);
      const power = powers[this.frames % 3];
      spectra.powers(power);
      const { values } = power;
      let all = 0;
      for (let k = 0; k < values.length; k++) all += values[k];
      this.loudest = Math.max(this.loudest, all);
      this.says.push(all > 0 ? all / (all + silent * this.loudest) : 0);
      if (this.frames >= 2) this.cosines.push(cosine(powers[(this.frames - 2) % 3], power));
      this.crowdings.push(crowding(power));
      this.motions.push(this.vibrato.follow(power, this.before, spectra));
      this.frames++;
    }
  }

  /** What was found between two moments (full-rate samples) that `advance` has passed. */
  between(start: Samples, end: Samples): Steady {
    const { band, framer, hop } = this;
    const first = Math.max(0, Math.ceil(start / band.decimation / hop));
    const last = Math.floor((end / band.decimation - 2 * framer.size) / hop);
    // A cosine is as good as the softer one of its frames.
    const cosines = this.cosines.slice(first, Math.max(first, last + 1)).map((value, i) => ({
      value,
      says: Math.min(this.says[first + i], this.says[first + i + 2]),
    }));
    // The attack's own frames are none of it; where there are few, what lies around says it.
    const short = Math.max(0, Math.ceil((fewest - (last - first)) / 2));
    const vibrato = together(
      this.motions.slice(Math.max(0, first + 2 - short), Math.max(first, last + 2 + short)),
      this.says.slice(Math.max(0, first + 2 - short), Math.max(first, last + 2 + short)),
    );
    const from = Math.max(0, first - short);
    const crowded = this.crowdings
      .slice(from, Math.max(first, last + 1 + short))
      .map((value, i) => ({ value, says: this.says[from + i] }));
    return {
      least: cosines.reduce(
        (least, { value }) => Math.min(least, value),
        cosines.length > 0 ? 1 : 0,
      ),
      usual: middle(cosines),
      vibrato,
      crowded: middle(crowded) ?? 1,
    };
  }
}

/** Between the magnitudes of two power spectra. Kernels, which count where both lie in their memory, give the same bits. */
function cosine(first: Doubles, second: Doubles): number {
  const a = first.values;
  if (first.at !== undefined && second.at !== undefined) {
    const kernel = lastingKernels()?.kernel;
    if (kernel) return kernel.likeness(first.at, second.at, a.length);
  }
  const b = second.values;
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
