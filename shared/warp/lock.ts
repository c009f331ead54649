import { lastingKernels } from '../math/kernel-fft.ts';
import type { Doubles } from '../math/kernel-places.ts';
import type { Leading } from './bands.ts';
import { isPeak } from './peaks.ts';
import { type Spectra, setTurn, type Turns } from './spectrum.ts';

/**
 * How the source goes on over one hop: from `earlier` to this frame, or from the frame before (`last`)
 * to `later`. Where time runs at another slope than 1 the one lies after, the other before the middle of the way
 * from frame to frame.
 */
export type Advance =
  | { readonly earlier: Spectra }
  | { readonly last: Spectra; readonly later: Spectra; readonly now: Spectra };

/**
 * Identity phase locking (Laroche and Dolson 1999): each peak of the spectrum gets the turn that makes
 * it go on from what was written one hop before, and its region, up to the valleys beside it, gets the
 * same. What lies outside the band or is too faint to lead (`leading`) goes with the peak beside it. The advance of a peak over one hop is read off the source itself, so no frequency has to be estimated and no phase unwrapped.
 *
 * @param power of this frame, over all channels
 * @param advance the source over one hop
 * @param written what stands in the result one hop before this frame
 * @param turns of the frame before; receives those of this frame
 * @param leading which bins may be peaks
 * @param least by how much a partial's gain may fall in this hop
 * @param most by how much it may rise
 */
export function lockPhases(
  power: Doubles,
  advance: Advance,
  written: Spectra,
  turns: Turns,
  leading: Leading,
  least: number,
  most: number,
): void {
  const kernel = lastingKernels()?.kernel;
  const further = 'earlier' in advance ? undefined : advance;
  const from = 'earlier' in advance ? advance.earlier.at : advance.last.at;
  if (
    kernel &&
    power.at !== undefined &&
    turns.at !== undefined &&
    written.at !== undefined &&
    from !== undefined
  ) {
    kernel.phasesLocked(
      power.at,
      written.pairs.length,
      written.size,
      from,
      further?.now.at ?? 0,
      further?.later.at ?? 0,
      written.at,
      turns.at,
      leading.from,
      leading.to,
      leading.faint,
      least,
      most,
      quietest,
      loudest,
    );
    return;
  }
  lockPlainly(power.values, advance, written, turns, leading, least, most);
}

function lockPlainly(
  power: Float64Array,
  advance: Advance,
  written: Spectra,
  turns: Turns,
  leading: Leading,
  least: number,
  most: number,
): void {
  const bins = power.length;
  let strongest = 0;
  for (let k = leading.from; k < leading.to; k++) strongest = Math.max(strongest, power[k]);
  const audible = strongest * leading.faint;
  let from = 0;
  let peak = -1;
  for (let k = leading.from; k < leading.to; k++) {
    if (power[k] < audible || !isPeak(power, k)) continue;
    if (peak >= 0) {
      let border = peak + 1;
      for (let i = peak + 1; i <= k; i++) if (power[i] < power[border]) border = i;
      fillRegion(power, peak, from, border, advance, written, turns, least, most);
      from = border;
    }
    peak = k;
  }
  if (peak >= 0) fillRegion(power, peak, from, bins, advance, written, turns, least, most);
}

/** Bounds of what gain a partial may come to. */
const quietest = 0.1;
const loudest = 4;

function fillRegion(
  power: Float64Array,
  peak: number,
  from: number,
  to: number,
  advance: Advance,
  written: Spectra,
  turns: Turns,
  least: number,
  most: number,
): void {
  const was = Math.sqrt(turns.re[peak] * turns.re[peak] + turns.im[peak] * turns.im[peak]);
  const low = Math.max(quietest, Math.min(loudest, was * least));
  const high = Math.max(quietest, Math.min(loudest, was * most));
  let re: number;
  let im: number;
  if ('earlier' in advance) {
    setTurn(advance.earlier, written, peak, turns, peak, low, high, power);
    re = turns.re[peak];
    im = turns.im[peak];
  } else {
    setTurn(advance.now, advance.later, peak, turns, peak, 1, 1, power);
    const cos = turns.re[peak];
    const sin = turns.im[peak];
    setTurn(advance.last, written, peak, turns, peak, low, high, power);
    re = turns.re[peak] * cos - turns.im[peak] * sin;
    im = turns.re[peak] * sin + turns.im[peak] * cos;
  }
  for (let i = from; i < to; i++) {
    turns.re[i] = re;
    turns.im[i] = im;
  }
}
