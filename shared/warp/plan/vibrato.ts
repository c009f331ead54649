import type { Doubles } from '../../math/kernel-places.ts';
import type { Cents, Share } from '../../math/units.ts';
import { strongPeaks } from '../bands/peaks.ts';
import { Spectra, setTurn } from '../bands/spectrum.ts';
import { middle } from './weighted-median.ts';

/** How partials moved from one frame to the next: their mean, and how far they moved alike (1: all did). */
export interface Motion {
  readonly cents: Cents;
  readonly alike: Share;
}

/** Share of the strongest partial's power from which a partial counts. */
const audible = 1e-3;
/** Level (bins) below which a frequency is too coarse in a frame to be followed. */
const lowest = 2;
/** What partials move by (cents, their mean square) where they stand still to all ears. */
const quiet = 1;

/** How far a partial may go in half a window, as a share of its frequency: some 100 cents. */
const farthest = 0.06;

const nearer = (a: number, b: number, k: number): boolean => Math.abs(a - k) < Math.abs(b - k);

/**
 * Follows the frequencies of partials from frame to frame, half a window apart. Vibrato moves all of
 * them by the same cents, which beats between notes and strings, noise and struck sounds don't. A frequency
 * is what a peak's phase goes on by from one frame to the next (Flanagan and Golden 1966), all channels together.
 */
export class Vibrato {
  private last: { readonly bin: number; readonly frequency: number; readonly power: number }[] = [];
  private readonly advance: Spectra;

  /** @param plain for the plain form, whatever the machine has */
  constructor(plain = false) {
    this.advance = new Spectra(1, 1, plain);
  }

  /** Leaves its memory to others. */
  leave(): void {
    this.advance.leave();
  }

  /**
   * @param spectrum power of this frame, over all channels
   * @param before the frame half a window earlier; as `now`
   */
  follow(spectrum: Doubles, before: Spectra, now: Spectra): Motion {
    const { last } = this;
    const advance = this.advance.pairs[0];
    const half = spectrum.values.length - 1;
    const peaks = strongPeaks(spectrum, lowest, half, audible);
    const power = spectrum.values;
    const partials: typeof last = [];
    let weight = 0;
    let sum = 0;
    let squares = 0;
    let from = 0;
    for (const k of peaks) {
      setTurn(before, now, k, advance, 0);
      const late = Math.atan2(advance.im[0], advance.re[0]) / Math.PI - k;
      const partial = { bin: k, frequency: k + late - 2 * Math.round(late / 2), power: power[k] };
      partials.push(partial);
      while (from + 1 < last.length && nearer(last[from + 1].bin, last[from].bin, k)) from++;
      const was = last[from];
      if (!was || Math.abs(was.bin - k) > Math.max(1, k * farthest)) continue;
      const cents = 1200 * Math.log2(partial.frequency / was.frequency);
      const w = Math.sqrt(partial.power * was.power);
      weight += w;
      sum += w * cents;
      squares += w * cents * cents;
    }
    this.last = partials;
    if (weight === 0) return { cents: 0, alike: 0 };
    const cents = sum / weight;
    return { cents, alike: (cents * cents) / (squares / weight + quiet * quiet) };
  }
}

/**
 * How far (cents, middle one) partials move together from frame to frame; 0 where they rather move
 * apart. Vibrato of a depth between 4 and 7 Hz moves them by 0.6 to 0.8 of it.
 *
 * @param says what each of them counts for
 */
export function together(motions: readonly Motion[], says: readonly Share[]): Cents {
  if (motions.length < 3) return 0;
  const usual = (of: (motion: Motion) => number): number =>
    middle(motions.map((motion, i) => ({ value: of(motion), says: says[i] }))) ?? 0;
  const share = Math.max(0, Math.min(1, (usual(({ alike }) => alike) - 0.88) / 0.08));
  return share * usual(({ cents }) => Math.abs(cents));
}
