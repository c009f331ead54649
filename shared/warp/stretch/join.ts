import { lastingKernels } from '../../math/kernel-fft.ts';
import type { Samples } from '../../math/units.ts';
import type { Band, BandSignals } from '../bands/bands.ts';
import {
  type Framer,
  type Spectra,
  type Spectrum,
  type SpectrumStore,
  turn,
} from '../bands/spectrum.ts';
import type { Strip } from '../bands/strip.ts';
import type { Piece } from '../plan/plan.ts';

/** What sounds where a piece begins: one frame of the source on each side of its attack, and the result before it. */
export interface Join {
  /** Position of the attack in the result, in band samples. */
  readonly at: Samples;
  readonly size: Samples;
  /** Of the sum, pair by pair of channels. */
  readonly before: Spectra;
  readonly after: Spectra;
  /** What stands in the result where `before` would lie if the piece had begun earlier. */
  readonly sounding: Spectra;
  /** The source as the piece moves it, one frame from `at + offset` on. */
  look(strips: readonly Strip[], offset: Samples): Spectra;
}

/** @param store where the spectra come from: they count until it is restarted */
export function lookAtJoin(
  piece: Piece,
  band: Band,
  { lead, outputs, shares }: BandSignals,
  padding: Samples,
  framer: Framer,
  store: SpectrumStore,
): Join {
  const { size } = framer;
  const at = Math.floor(piece.out / band.decimation);
  const exact = (piece.source - piece.out) / band.decimation;
  const shift = Math.round(exact);
  const ramp = framer.ramp(exact - shift);
  const none = Number.POSITIVE_INFINITY;
  const look = (strips: readonly Strip[], offset: Samples) => {
    const spectra = store.take(strips.length);
    strips.forEach((pair, p) => {
      const spectrum = spectra.pairs[p];
      framer.analyse(pair, at + shift + offset + padding, none, spectrum);
      turn(spectrum, ramp);
    });
    return spectra;
  };
  const sounding = store.take(lead.length);
  sounding.clear();
  const [work] = store.take(1).pairs;
  outputs.forEach((pair, p) => {
    framer.analyse(pair, at - size + padding, none, work);
    for (const { pair: q, bothSides } of shares[p].pairs)
      addSides(work, bothSides, sounding.pairs[q]);
  });
  return { at, size, before: look(lead, -size), after: look(lead, 0), sounding, look };
}

/** Adds a spectrum to a sum; on both sides what is real becomes real and imaginary alike. */
function addSides(spectrum: Spectrum, bothSides: boolean, sum: Spectrum): void {
  const side = bothSides ? 1 : 0;
  const { re: xr, im: xi } = spectrum;
  const kernel = lastingKernels()?.kernel;
  if (kernel && spectrum.at !== undefined && sum.at !== undefined) {
    kernel.sidesAdded(spectrum.at, xr.length, side, sum.at);
    return;
  }
  const { re, im } = sum;
  for (let i = 0; i < re.length; i++) {
    re[i] += xr[i] - side * xi[i];
    im[i] += xi[i] + side * xr[i];
  }
}
