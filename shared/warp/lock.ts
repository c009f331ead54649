import { lastingKernels } from '../math/kernel-fft.ts';
import type { Doubles } from '../math/kernel-places.ts';
import type { Leading } from './bands.ts';
import type { Spectra, Turns } from './spectrum.ts';

/**
 * How the source goes on over one hop: from `earlier` to this frame, or from the frame before (`last`)
 * to `later`. Where time runs at another slope than 1 the one lies after, the other before the middle of the way
 * from frame to frame.
 */
export type Advance =
  | { readonly earlier: Spectra }
  | { readonly last: Spectra; readonly later: Spectra; readonly now: Spectra };

/** What bins one and two beside a bin count for, besides itself. */
const next = 0.3;
const second = 0.08;
/** By what share of itself a bin is felt one bin farther away: about as a window's side lobes fall. */
const farther = 0.03;
/** Sums are scaled so that they reach far before they vanish, with their squares; where they come to less than `nothing` nobody leads. */
const scaled = 1e140;
const nothing = 1e-150;

/** Bounds of what gain a partial may come to. */
const quietest = 0.1;
const loudest = 4;

/** How many doubles `lockPhases` works in, for so many bins. */
export const lockRoom = (bins: number): number => 11 * (bins + 6);

/**
 * Phase locking by sums over neighbouring bins (the idea of Puckette 1995): each bin gets the turn that makes the
 * sound around it go on from what was written one hop before. What a bin says counts by its power squared, in full in the bins next to it and
 * less and less farther away, so that a partial's peak leads all of its lobes and its skirts, up to where another partial's are
 * as strong. Nobody is chosen: where two are nearly as strong as each other the turn lies between theirs, and
 * little hangs on what a stored mix was rounded by. What lies outside the band or is too faint to lead (`leading`)
 * goes with what leads beside it. The advance over one hop is read off the source itself, so no
 * frequency has to be estimated and no phase unwrapped.
 *
 * @param power of this frame, over all channels
 * @param advance the source over one hop
 * @param written what stands in the result one hop before this frame
 * @param turns of the frame before; receives those of this frame
 * @param leading which bins may lead
 * @param least by how much a partial's gain may fall in this hop
 * @param most by how much it may rise
 * @param room `lockRoom` doubles with anything in them
 */
export function lockPhases(
  power: Doubles,
  advance: Advance,
  written: Spectra,
  turns: Turns,
  leading: Leading,
  least: number,
  most: number,
  room: Doubles,
): void {
  const kernel = lastingKernels()?.kernel;
  const further = 'earlier' in advance ? undefined : advance;
  const from = 'earlier' in advance ? advance.earlier.at : advance.last.at;
  if (
    kernel &&
    power.at !== undefined &&
    turns.at !== undefined &&
    written.at !== undefined &&
    room.at !== undefined &&
    from !== undefined
  ) {
    kernel.phasesLocked(
      ...([power.at, written.pairs.length, written.size, from] as const),
      ...([further?.now.at ?? 0, further?.later.at ?? 0, written.at, turns.at] as const),
      ...([leading.from, leading.to, leading.faint, least, most, quietest, loudest] as const),
      room.at,
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
  const { from: first, to: end } = leading;
  let strongest = 0;
  for (let k = first; k < end; k++) strongest = Math.max(strongest, power[k]);
  if (!(strongest > 0)) return;
  const audible = strongest * leading.faint;
  const weights = power
    .slice(first, end)
    .map((p) => Math.max(0, (p - audible) * (scaled / strongest)));
  const sumsOf = (from: Spectra, to: Spectra): Followed => {
    const { re, im, energy } = followed(from, to, first, weights);
    return { re: spread(re), im: spread(im), energy: spread(energy) };
  };
  const on = 'earlier' in advance ? undefined : sumsOf(advance.now, advance.later);
  const own = sumsOf('earlier' in advance ? advance.earlier : advance.last, written);
  let led = -1;
  for (let i = 0; i < weights.length; i++) {
    const k = first + i;
    const length = lengthAt(own, i);
    if (!(length > nothing)) {
      if (led >= 0) copyTurn(turns, led, k);
      continue;
    }
    const was = Math.sqrt(turns.re[k] * turns.re[k] + turns.im[k] * turns.im[k]);
    const low = Math.max(quietest, Math.min(loudest, was * least));
    const high = Math.max(quietest, Math.min(loudest, was * most));
    const gain = Math.max(low, Math.min(high, length / own.energy[i])) / length;
    let re = own.re[i] * gain;
    let im = own.im[i] * gain;
    if (on) {
      const far = lengthAt(on, i);
      const cos = far > nothing ? on.re[i] / far : 1;
      const sin = far > nothing ? on.im[i] / far : 0;
      const x = re;
      re = x * cos - im * sin;
      im = x * sin + im * cos;
    }
    turns.re[k] = re;
    turns.im[k] = im;
    if (led < 0) for (let before = first; before < k; before++) copyTurn(turns, k, before);
    led = k;
  }
  for (let k = 0; k < first; k++) copyTurn(turns, first, k);
  for (let k = end; k < power.length; k++) copyTurn(turns, end - 1, k);
}

/** How one spectrum follows from another: products with the conjugate, and the power that they are made from. */
interface Followed {
  readonly re: Float64Array;
  readonly im: Float64Array;
  readonly energy: Float64Array;
}

const lengthAt = ({ re, im }: Followed, i: number): number =>
  Math.sqrt(re[i] * re[i] + im[i] * im[i]);

function copyTurn({ re, im }: Turns, from: number, to: number): void {
  re[to] = re[from];
  im[to] = im[from];
}

/** From bin `first` on, as many as there are weights. */
function followed(from: Spectra, to: Spectra, first: number, weights: Float64Array): Followed {
  const make = () => new Float64Array(weights.length);
  const sums = { re: make(), im: make(), energy: make() };
  for (let i = 0; i < weights.length; i++) {
    const k = first + i;
    const m = k === 0 ? 0 : from.size - k;
    let pr = 0;
    let pi = 0;
    let energy = 0;
    for (let p = 0; p < from.pairs.length; p++) {
      const x = from.pairs[p];
      const y = to.pairs[p];
      const a = x.re[k];
      const b = x.im[k];
      const c = x.re[m];
      const d = x.im[m];
      pr += y.re[k] * a + y.im[k] * b + y.re[m] * c + y.im[m] * d;
      pi += y.im[k] * a - y.re[k] * b - y.im[m] * c + y.re[m] * d;
      energy += a * a + b * b + c * c + d * d;
    }
    sums.re[i] = pr * weights[i];
    sums.im[i] = pi * weights[i];
    sums.energy[i] = energy * weights[i];
  }
  return sums;
}

/** What every bin feels of all. */
function spread(bins: Float64Array): Float64Array {
  const near = bins.map(
    (own, i) =>
      own +
      next * ((bins[i - 1] ?? 0) + (bins[i + 1] ?? 0)) +
      second * ((bins[i - 2] ?? 0) + (bins[i + 2] ?? 0)),
  );
  const all = new Float64Array(bins.length);
  let before = 0;
  for (let i = 0; i < all.length; i++) {
    all[i] = before;
    before = farther * (before + near[i]);
  }
  let behind = 0;
  for (let i = all.length - 1; i >= 0; i--) {
    const sum = behind + near[i];
    all[i] += sum;
    behind = farther * sum;
  }
  return all;
}
