import { type Spectrum, setTurn, type Turns } from './spectrum.ts';

/**
 * Identity phase locking (Laroche and Dolson 1999): each peak of the spectrum gets the turn that makes
 * it go on from what was written one hop before, and its region, up to the valleys beside it, gets the
 * same. The advance of a peak over one hop is read off the source itself (`earlier` is the source one
 * hop before this frame), so no frequency has to be estimated and no phase unwrapped.
 *
 * @param power of this frame, over all channels
 * @param earlier the source one hop before this frame
 * @param written what stands in the result one hop before this frame
 * @param turns of the frame before; receives those of this frame
 * @param least by how much a partial's gain may fall in this hop
 * @param most by how much it may rise
 */
export function lockPhases(
  power: Float64Array,
  earlier: readonly Spectrum[],
  written: readonly Spectrum[],
  turns: Turns,
  least: number,
  most: number,
): void {
  const bins = power.length;
  let from = 0;
  let peak = -1;
  for (let k = 0; k < bins; k++) {
    if (!isPeak(power, k)) continue;
    if (peak >= 0) {
      let border = peak + 1;
      for (let i = peak + 1; i <= k; i++) if (power[i] < power[border]) border = i;
      fillRegion(peak, from, border, earlier, written, turns, least, most);
      from = border;
    }
    peak = k;
  }
  if (peak >= 0) fillRegion(peak, from, bins, earlier, written, turns, least, most);
}

/** Bounds of what gain a partial may come to. */
const quietest = 0.1;
const loudest = 4;

/** Whether a bin is stronger than the two on each side of it. */
export function isPeak(power: Float64Array, k: number): boolean {
  const p = power[k];
  const last = power.length - 1;
  return !(
    (k > 0 && p <= power[k - 1]) ||
    (k > 1 && p <= power[k - 2]) ||
    (k < last && p < power[k + 1]) ||
    (k < last - 1 && p < power[k + 2])
  );
}

function fillRegion(
  peak: number,
  from: number,
  to: number,
  earlier: readonly Spectrum[],
  written: readonly Spectrum[],
  turns: Turns,
  least: number,
  most: number,
): void {
  const was = Math.sqrt(turns.re[peak] ** 2 + turns.im[peak] ** 2);
  const low = Math.max(quietest, Math.min(loudest, was * least));
  const high = Math.max(quietest, Math.min(loudest, was * most));
  setTurn(earlier, written, peak, turns, peak, low, high);
  const re = turns.re[peak];
  const im = turns.im[peak];
  for (let i = from; i < to; i++) {
    turns.re[i] = re;
    turns.im[i] = im;
  }
}
