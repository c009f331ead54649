import { takeDoubles } from '../../math/kernel-places.ts';
import type { Samples, Share } from '../../math/units.ts';
import type { BandSignals } from '../bands/bands.ts';
import { strongPeaks } from '../bands/peaks.ts';
import { Spectra, type Spectrum, setTurn, type Turns } from '../bands/spectrum.ts';
import type { Join } from './join.ts';

/** Share of the strongest partial's power before an attack from which a partial is carried on. */
const audible = 1e-3;
/** Bins on each side of a peak that go with it. */
const reach = 2;
/** Phases (radians) of result and source that differ by less need no bridge. */
const aligned = 0.02;
/** How far (radians) a partial may be after the attack from where it was expected to be the same one. */
const same = 1;
/** Most that it may have grown by, and least that may be left of it. */
const loudest = 1.2;
const quietest = 0.05;
/**
 * How far beyond those bounds, and over the bins around its peak, a partial has to be to be carried on in full: what a
 * stored mix was rounded by must not decide whether it is.
 */
const clear = { audible: 0.25, peak: 0.05, aligned: 0.5, same: 0.1, loudest: 0.05 };

/** One partial: bins `from` to `to`, what it differs by from the source, and what it does in a hop. */
interface Carried {
  readonly from: number;
  /** Up to here bins belong to the partial before it, too, and this is what is left of them for this one. */
  readonly own: number;
  readonly left: Share;
  readonly to: number;
  readonly re: number;
  readonly im: number;
  readonly angle: number;
  /** Natural logarithm of what its level falls by. */
  readonly fall: number;
}

/**
 * Partials that go on under an attack, carried on with the phase that they have in the result: what the
 * result and the source differ by before the attack is continued, as sines that die away as the
 * partials do, and added to the copy. Unlike a turn it leaves all that begins at the attack alone. Turns take
 * over from what it wrote before it is no longer true.
 */
export class Bridge {
  constructor(
    private readonly partials: readonly Carried[],
    private readonly lead: Spectra,
    private readonly sources: Spectra,
    private readonly first: Samples,
    private readonly hop: Samples,
  ) {}

  /** Adds what it has of pair `p` of the sum to a frame that begins at `at`. */
  addToLead(frame: Spectrum, p: number, at: Samples): void {
    this.add(frame, this.lead.pairs[p], at);
  }

  /** The same of a pair that is rendered. */
  addToSource(frame: Spectrum, p: number, at: Samples): void {
    this.add(frame, this.sources.pairs[p], at);
  }

  private add(frame: Spectrum, from: Spectrum, at: Samples): void {
    const { re, im } = frame;
    const { re: xr, im: xi } = from;
    const size = re.length;
    const hops = (at - this.first) / this.hop;
    for (const partial of this.partials) {
      const gain = Math.exp(-partial.fall * hops);
      const cos = Math.cos(partial.angle * hops) * gain;
      const sin = Math.sin(partial.angle * hops) * gain;
      const whole = {
        c: partial.re * cos - partial.im * sin,
        s: partial.re * sin + partial.im * cos,
      };
      for (let k = partial.from, m = size - k; k < partial.to; k++, m--) {
        const share = k < partial.own ? partial.left : 1;
        const c = whole.c * share;
        const s = whole.s * share;
        re[k] += xr[k] * c - xi[k] * s;
        im[k] += xr[k] * s + xi[k] * c;
        re[m] += xr[m] * c + xi[m] * s;
        im[m] += xi[m] * c - xr[m] * s;
      }
    }
  }
}

/**
 * The bridge over a piece's attack, if anything needs one. A partial is carried on if the frame after the
 * attack shows it where its frequency (from two frames before) has taken it; between the two frames it
 * is then known to a fraction of a turn. What is new or hidden at a partial's place starts as recorded.
 *
 * @param turns that the piece begins with: their lengths are the levels of what is held
 */
export function bridgePartials(
  join: Join,
  { lead, sources, single }: BandSignals,
  turns: Turns,
): Bridge | undefined {
  const { at, size, before, after, sounding } = join;
  const hop = size / 4;
  const half = size / 2;
  const power = takeDoubles(half + 1);
  before.powers(power);
  const peaks = strongPeaks(power, 0, half + 1, audible);
  // Memory that kernels work in may grow, which leaves views of it empty: a copy stays.
  const values = power.values.slice();
  power.leave();
  let top = 0;
  for (const k of peaks) top = Math.max(top, values[k]);
  const work = new Spectra(1, 1);
  const found = work.pairs[0];
  const partials: Carried[] = [];
  let earlier: Spectra | undefined;
  let free = 1;
  let left = 1;
  for (const k of peaks) {
    if (k < 2 || k >= half - 2) continue;
    setTurn(before, sounding, k, found, 0);
    const level = Math.sqrt(turns.re[k] * turns.re[k] + turns.im[k] * turns.im[k]);
    const re = (found.re[0] - 1) * level;
    const im = found.im[0] * level;
    const beyond = Math.hypot(found.re[0] - 1, found.im[0]) / aligned - 1;
    if (!(beyond > 0)) continue;
    earlier ??= join.look(lead, -size - hop);
    setTurn(earlier, before, k, found, 0);
    const nominal = (Math.PI / 2) * k;
    const advance = nominal + wrapped(Math.atan2(found.im[0], found.re[0]) - nominal);
    setTurn(before, after, k, found, 0, quietest, loudest);
    const off = wrapped(Math.atan2(found.im[0], found.re[0]) - 4 * advance);
    const kept = Math.sqrt(found.re[0] * found.re[0] + found.im[0] * found.im[0]);
    const around = Math.max(values[k - 2], values[k - 1], values[k + 1], values[k + 2]);
    const say =
      Math.min(1, (values[k] / (audible * top) - 1) / clear.audible) *
      Math.min(1, (values[k] / around - 1) / clear.peak) *
      Math.min(1, beyond / clear.aligned) *
      Math.max(0, Math.min(1, (same - Math.abs(off)) / clear.same)) *
      Math.max(0, Math.min(1, (loudest * 0.999 - kept) / clear.loudest));
    if (!(say > 0)) continue;
    partials.push({
      from: Math.max(1, k - reach),
      own: free,
      left,
      to: k + reach + 1,
      re: re * say,
      im: im * say,
      angle: advance + off / 4,
      fall: -Math.log(kept) / 4,
    });
    free = k + reach + 1;
    left = 1 - say;
  }
  work.leave();
  if (partials.length === 0) return undefined;
  const own = single ? before : join.look(sources, -size);
  return new Bridge(partials, before, own, at - size, hop);
}

const wrapped = (angle: number): number => angle - 2 * Math.PI * Math.round(angle / (2 * Math.PI));
