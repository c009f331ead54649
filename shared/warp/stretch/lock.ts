import { lastingKernels } from '../../math/kernel-fft.ts';
import type { Doubles } from '../../math/kernel-places.ts';
import type { Share } from '../../math/units.ts';
import type { Leading } from '../bands/bands.ts';
import { type Spectra, setTurn, type Turns } from '../bands/spectrum.ts';

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
 * same. Where rounding alone decides what is a peak, or where a valley is lowest, two turns are mixed. What lies outside the band or is too faint to lead (`leading`), now or a hop ago, goes with the peak beside it. The advance of a peak over one hop is read off the source itself, so no frequency has to be estimated and no phase unwrapped.
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
  let older: Lead | undefined;
  let newest: Lead | undefined;
  let led: Turning | undefined;
  const source = 'earlier' in advance ? advance.earlier : advance.last;
  for (let k = leading.from; k < leading.to; k++) {
    if (power[k] < audible || !leads(power, k)) continue;
    const before = powerAt(source, k);
    if (before < audible) continue;
    let border = 0;
    if (newest) {
      border = newest.bin + 1;
      for (let i = border + 1; i <= k; i++) if (power[i] < power[border]) border = i;
    }
    const own = Math.min(ownShare(power, k, audible), before / audible - 1);
    const lead = {
      ...turnOf(power, k, advance, written, turns, least, most),
      ...{ bin: k, own, border, saddle: power[border] },
    };
    if (newest) {
      const next = ledBy(older, newest, lead);
      fill(power, older, led, newest, next, turns);
      led = next;
      older = newest;
    }
    newest = lead;
  }
  if (!newest) return;
  const last = ledBy(older, newest, undefined);
  fill(power, older, led, newest, last, turns);
  turns.re.fill(last.re, newest.bin + 1, bins);
  turns.im.fill(last.im, newest.bin + 1, bins);
}

/** Bounds of what gain a partial may come to. */
const quietest = 0.1;
const loudest = 4;

/** Share of a peak's power by which it has to exceed the bins around it to have a turn all its own. */
const clear: Share = 0.05;
/** How much over the lowest power between two peaks is as low: what lies between such bins belongs to both. */
const level: Share = 0.1;

interface Turning {
  readonly re: number;
  readonly im: number;
}

/** A peak and its turn. */
interface Lead extends Turning {
  readonly bin: number;
  /** What its own turn counts for. */
  readonly own: Share;
  /** The lowest bin between the peak before and this one, and its power. */
  readonly border: number;
  readonly saddle: number;
}

/**
 * Whether a bin may have a turn of its own: it is stronger than the two beside it and hardly weaker than those next to
 * them, of which one that is as strong would otherwise be the only peak, and borders would lie elsewhere.
 */
function leads(power: Float64Array, k: number): boolean {
  const p = power[k];
  const most = p * (1 + clear);
  const last = power.length - 1;
  return !(
    (k > 0 && p <= power[k - 1]) ||
    (k > 1 && most <= power[k - 2]) ||
    (k < last && p < power[k + 1]) ||
    (k < last - 1 && most < power[k + 2])
  );
}

/** Power at a bin, all pairs and channels together. */
function powerAt({ pairs }: Spectra, k: number): number {
  let sum = 0;
  for (const { re, im } of pairs) {
    const m = k === 0 ? 0 : re.length - k;
    sum += re[k] * re[k] + im[k] * im[k] + re[m] * re[m] + im[m] * im[m];
  }
  return sum;
}

/**
 * What the own turn of a peak counts for: little where it is hardly audible, or hardly exceeds a bin that would be
 * no peak without it, since a stronger one lies on its other side, or is weaker than a peak two bins away. What a stored mix
 * was rounded by decides then whether there is a peak.
 */
function ownShare(power: Float64Array, k: number, audible: number): Share {
  const p = power[k];
  let own = p >= 2 * audible ? 1 : p / audible - 1;
  for (let side = -1; side < 2; side += 2)
    for (let d = 1; d < 3; d++) {
      const q = power[k + d * side] ?? 0;
      if (!(q > (1 - clear) * p)) continue;
      const third = power[k + 3 * side] ?? 0;
      const beyond = d < 2 ? third : Math.max(third, power[k + 4 * side] ?? 0);
      const hidden = Math.max(0, Math.min(1, (beyond / q - 1) / clear));
      const under = q / p - 1;
      own = Math.min(
        own,
        under > 0
          ? (1 - hidden) * Math.max(0, 1 - under / clear)
          : Math.max(-under / clear, 1 - hidden),
      );
    }
  return own;
}

/** What a peak is turned by: as it goes on itself, or where that counts for less than all, as the one does to which it is joined higher. */
function ledBy(before: Lead | undefined, peak: Lead, after: Lead | undefined): Turning {
  if (peak.own >= 1 || !(before || after)) return peak;
  if (!before || !after) return mixed(before ?? after ?? peak, peak, peak.own);
  const both = peak.saddle + after.saddle;
  const lean = both > 0 ? 0.5 + (10 * (peak.saddle - after.saddle)) / both : 0.5;
  return mixed(mixed(after, before, Math.max(0, Math.min(1, lean))), peak, peak.own);
}

/**
 * From one turn (share 0) to another, lengths and directions. Lengths are kept whatever the directions, since the next
 * frame goes on with what it finds: a bin that was weakened would stay so.
 */
function mixed(a: Turning, b: Turning, share: Share): Turning {
  if (share >= 1) return b;
  if (share <= 0) return a;
  const re = a.re + share * (b.re - a.re);
  const im = a.im + share * (b.im - a.im);
  const first = Math.sqrt(a.re * a.re + a.im * a.im);
  const length = first + share * (Math.sqrt(b.re * b.re + b.im * b.im) - first);
  const found = Math.sqrt(re * re + im * im);
  if (found === 0) return a;
  const gain = length / found;
  return { re: re * gain, im: im * gain };
}

/** Fills in the bins after the peak before (turned by `a`; there may be none) up to and with `peak` (turned by `b`). */
function fill(
  power: Float64Array,
  before: Lead | undefined,
  a: Turning | undefined,
  { bin, border, saddle }: Lead,
  b: Turning,
  { re, im }: Turns,
): void {
  let x = before ? bin : 0;
  // Down to the last bin that is as low all goes with this peak.
  while (x > border && !(power[x] < (1 + level) * saddle)) x--;
  re.fill(b.re, x, bin + 1);
  im.fill(b.im, x, bin + 1);
  if (!before || !a) return;
  for (let least = power[x]; x > border; least = Math.min(least, power[x])) {
    x--;
    const z = mixed(a, b, (least / saddle - 1) / level);
    re[x] = z.re;
    im[x] = z.im;
  }
  re.fill(a.re, before.bin + 1, border);
  im.fill(a.im, before.bin + 1, border);
}

function turnOf(
  power: Float64Array,
  peak: number,
  advance: Advance,
  written: Spectra,
  turns: Turns,
  least: number,
  most: number,
): Turning {
  const was = Math.sqrt(turns.re[peak] * turns.re[peak] + turns.im[peak] * turns.im[peak]);
  const low = Math.max(quietest, Math.min(loudest, was * least));
  const high = Math.max(quietest, Math.min(loudest, was * most));
  if ('earlier' in advance) {
    setTurn(advance.earlier, written, peak, turns, peak, low, high, power);
    return { re: turns.re[peak], im: turns.im[peak] };
  }
  setTurn(advance.now, advance.later, peak, turns, peak, 1, 1, power);
  const cos = turns.re[peak];
  const sin = turns.im[peak];
  setTurn(advance.last, written, peak, turns, peak, low, high, power);
  return {
    re: turns.re[peak] * cos - turns.im[peak] * sin,
    im: turns.re[peak] * sin + turns.im[peak] * cos,
  };
}
