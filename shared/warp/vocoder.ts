import { ComplexFft } from '../math/complex-fft.ts';
import { hann } from '../math/window.ts';
import type { Band, Pair } from './bands.ts';
import type { Piece } from './plan.ts';
import { sourceAt } from './time-plan.ts';

/** One frame's spectrum of one pair. */
interface Spectrum {
  readonly re: Float64Array;
  readonly im: Float64Array;
}

/** What a window length needs: made once. */
class Kit {
  readonly fft: ComplexFft;
  readonly window: Float64Array;
  constructor(readonly size: number) {
    this.fft = new ComplexFft(size);
    this.window = hann(size);
  }
}

/** What the stretch of one band reads and writes. */
export interface BandSignals {
  /** Sum of all inputs, pair by pair of channels: every phase is decided here. */
  readonly lead: readonly Pair[];
  /** What is rendered, input by input, each with as many pairs as `lead`. */
  readonly sources: readonly Pair[];
  readonly outputs: readonly Pair[];
  /** With one input the sources are the lead, so that its frames serve twice. */
  readonly single: boolean;
}

/** Seconds of the crossfade that ends at a kept attack. */
const crossfade = 0.003;

/**
 * The stretch of one band: frames of the source, each turned by one rotation for each bin, overlapped
 * and added (identity phase locking: Laroche and Dolson 1999). The rotation of a peak makes the frame
 * go on where the last one left off: it turns the source frame one hop earlier into the frame just
 * written, summed over channels, so that strong channels lead and all keep their relations.
 */
export class BandVocoder {
  private readonly kits = new Map<number, Kit>();
  private readonly fade: number;
  private readonly padding: number;

  constructor(
    private readonly band: Band,
    private readonly signals: BandSignals,
    padding: number,
    sampleRate: number,
    private readonly held: boolean,
  ) {
    this.padding = padding / band.decimation;
    this.fade = (crossfade * sampleRate) / band.decimation;
  }

  private kit(size: number): Kit {
    let kit = this.kits.get(size);
    if (!kit) {
      kit = new Kit(size);
      this.kits.set(size, kit);
    }
    return kit;
  }

  /** Renders one piece into the outputs, crossfading from what stands there before its attack. */
  render(piece: Piece, first: boolean, last: boolean): void {
    const { decimation } = this.band;
    const { signals, padding } = this;
    const kit = this.kit(piece.window);
    const size = kit.size;
    const half = size / 2;
    const hop = size / 4;
    const begin = piece.out / decimation;
    const end = last ? piece.outEnd / decimation + padding : piece.outEnd / decimation;
    const from = first ? -padding : Math.ceil(begin - this.fade);
    const to = Math.ceil(end);
    const count = Math.max(0, to - from);
    const shift = (piece.source - piece.out) / decimation;
    const fraction = shift - Math.round(shift);
    const limit = last ? Number.POSITIVE_INFINITY : piece.sourceEnd / decimation;
    const ramp = makeRamp(size, fraction);
    const rotRe = new Float64Array(half + 1).fill(1);
    const rotIm = new Float64Array(half + 1);
    let plain = true;
    if (!first && this.held) plain = !this.holdPartials(piece, kit, rotRe, rotIm);

    const own = signals.single;
    const now = signals.lead.map(() => spectrum(size));
    const earlier = signals.lead.map(() => spectrum(size));
    const written = signals.lead.map(() => spectrum(size));
    const work = spectrum(size);
    const buffers = signals.sources.map(() => ({
      re: new Float64Array(count),
      im: new Float64Array(count),
    }));
    const norm = new Float64Array(count);
    const power = new Float64Array(half + 1);
    const firstFrame = Math.ceil((from - half) / hop);
    const lastFrame = Math.floor((to + half - 1) / hop);
    let previous = Number.NaN;
    for (let k = firstFrame; k <= lastFrame; k++) {
      const u = k * hop;
      const exact = sourceAt(piece.knots, u * decimation) / decimation;
      const r = Math.round(exact - fraction);
      signals.lead.forEach((pair, p) => {
        this.analyse(pair, r, limit, kit, now[p]);
        turn(now[p], ramp.re, ramp.im);
      });
      const steady = r - previous === hop;
      if (!Number.isNaN(previous) && !(steady && plain) && !(steady && u < begin + half)) {
        plain = false;
        if (!steady)
          signals.lead.forEach((pair, p) => {
            this.analyse(pair, r - hop, limit, kit, earlier[p]);
            turn(earlier[p], ramp.re, ramp.im);
          });
        this.lock(size, now, earlier, written, power, rotRe, rotIm);
      }
      signals.lead.forEach((_, p) => {
        copySpectrum(now[p], earlier[p]);
        copySpectrum(now[p], written[p]);
        if (!plain) turn(written[p], rotRe, rotIm);
      });
      previous = r;
      signals.sources.forEach((pair, p) => {
        if (own) copySpectrum(written[p], work);
        else {
          this.analyse(pair, r, limit, kit, work);
          turn(work, ramp.re, ramp.im);
          if (!plain) turn(work, rotRe, rotIm);
        }
        kit.fft.transform(work.im, work.re);
        add(work, kit.window, buffers[p], u - half - from);
      });
      addNorm(kit.window, norm, u - half - from, Math.ceil(limit) - r + half);
    }
    this.write(buffers, norm, from, begin, first, size);
  }

  /** Windowed spectrum of the source around band sample `centre`; nothing from `limit` on counts. */
  private analyse(pair: Pair, centre: number, limit: number, kit: Kit, to: Spectrum): void {
    const { window, size } = kit;
    const { re, im } = to;
    const start = centre - size / 2 + this.padding;
    const low = Math.max(0, -start);
    const high = Math.max(
      low,
      Math.min(size, pair.re.length - start, Math.ceil(limit) + this.padding - start),
    );
    if (low > 0) {
      re.fill(0, 0, Math.min(low, size));
      im.fill(0, 0, Math.min(low, size));
    }
    for (let i = low; i < high; i++) {
      re[i] = pair.re[start + i] * window[i];
      im[i] = pair.im[start + i] * window[i];
    }
    if (high < size) {
      re.fill(0, high);
      im.fill(0, high);
    }
    kit.fft.transform(re, im);
  }

  /** Rotations for this frame: each peak goes on from the frame last written, its region with it. */
  private lock(
    size: number,
    now: readonly Spectrum[],
    earlier: readonly Spectrum[],
    written: readonly Spectrum[],
    power: Float64Array,
    rotRe: Float64Array,
    rotIm: Float64Array,
  ): void {
    const half = size / 2;
    power.fill(0);
    for (const { re, im } of now) {
      power[0] += re[0] * re[0] + im[0] * im[0];
      power[half] += re[half] * re[half] + im[half] * im[half];
      for (let k = 1, m = size - 1; k < half; k++, m--)
        power[k] += re[k] * re[k] + im[k] * im[k] + re[m] * re[m] + im[m] * im[m];
    }
    let from = 0;
    let peak = -1;
    for (let k = 0; k <= half; k++) {
      const p = power[k];
      if (
        (k > 0 && p <= power[k - 1]) ||
        (k > 1 && p <= power[k - 2]) ||
        (k < half && p < power[k + 1]) ||
        (k < half - 1 && p < power[k + 2])
      )
        continue;
      if (peak >= 0) {
        let border = peak + 1;
        for (let i = peak + 1; i <= k; i++) if (power[i] < power[border]) border = i;
        this.turnRegion(peak, from, border, size, earlier, written, rotRe, rotIm);
        from = border;
      }
      peak = k;
    }
    if (peak >= 0) this.turnRegion(peak, from, half + 1, size, earlier, written, rotRe, rotIm);
  }

  private turnRegion(
    peak: number,
    from: number,
    to: number,
    size: number,
    earlier: readonly Spectrum[],
    written: readonly Spectrum[],
    rotRe: Float64Array,
    rotIm: Float64Array,
  ): void {
    const { re, im } = rotationBetween(peak, size, earlier, written);
    for (let i = from; i < to; i++) {
      rotRe[i] = re;
      rotIm[i] = im;
    }
  }

  /**
   * Partials that sounded before the attack as strongly as after it go on with the phase they have in
   * the output: the rotation that turns the source just before the attack into what was written there.
   * Returns whether there are any.
   */
  private holdPartials(piece: Piece, kit: Kit, rotRe: Float64Array, rotIm: Float64Array): boolean {
    const { decimation } = this.band;
    const { lead, outputs } = this.signals;
    const size = kit.size;
    const half = size / 2;
    const at = Math.floor(piece.out / decimation);
    const shift = Math.round((piece.source - piece.out) / decimation);
    const fraction = (piece.source - piece.out) / decimation - shift;
    const ramp = makeRamp(size, fraction);
    const before = lead.map((pair) => {
      const s = spectrum(size);
      this.analyse(pair, at + shift - half, Number.POSITIVE_INFINITY, kit, s);
      turn(s, ramp.re, ramp.im);
      return s;
    });
    const after = lead.map((pair) => {
      const s = spectrum(size);
      this.analyse(pair, at + shift + half, Number.POSITIVE_INFINITY, kit, s);
      return s;
    });
    const sounding = lead.map(() => spectrum(size));
    const work = spectrum(size);
    outputs.forEach((pair, p) => {
      this.analyse(pair, at - half, Number.POSITIVE_INFINITY, kit, work);
      const sum = sounding[p % lead.length];
      for (let i = 0; i < size; i++) {
        sum.re[i] += work.re[i];
        sum.im[i] += work.im[i];
      }
    });
    let any = false;
    const was = powers(before, size);
    const is = powers(after, size);
    for (let k = 2; k < half - 2; k++) {
      const p = is[k];
      if (p <= is[k - 1] || p <= is[k - 2] || p < is[k + 1] || p < is[k + 2]) continue;
      if (Math.max(was[k - 1], was[k], was[k + 1]) < 0.7 * p) continue;
      const { re, im } = rotationBetween(k, size, before, sounding);
      for (let i = Math.max(0, k - 3); i <= Math.min(half, k + 3); i++) {
        rotRe[i] = re;
        rotIm[i] = im;
      }
      any = true;
    }
    return any;
  }

  /** Fades what stands in the outputs before the attack into the piece, then writes the piece. */
  private write(
    buffers: readonly Spectrum[],
    norm: Float64Array,
    from: number,
    begin: number,
    first: boolean,
    size: number,
  ): void {
    const floor = 0.05;
    this.signals.outputs.forEach((pair, p) => {
      const { re, im } = buffers[p];
      const low = Math.max(0, -(from + this.padding));
      const high = Math.min(re.length, pair.re.length - from - this.padding);
      for (let i = low; i < high; i++) {
        const at = from + i + this.padding;
        const scale = 1 / (size * Math.max(norm[i], floor));
        const x = first ? 1 : Math.min(1, (from + i - begin + this.fade) / this.fade);
        const share = x >= 1 ? 1 : 0.5 - 0.5 * Math.cos(Math.PI * Math.max(0, x));
        pair.re[at] += (re[i] * scale - pair.re[at]) * share;
        pair.im[at] += (im[i] * scale - pair.im[at]) * share;
      }
    });
  }
}

function spectrum(size: number): Spectrum {
  return { re: new Float64Array(size), im: new Float64Array(size) };
}

function copySpectrum(from: Spectrum, to: Spectrum): void {
  to.re.set(from.re);
  to.im.set(from.im);
}

/** Multiplies a pair's spectrum by one rotation for each bin, the mirrored bins by its conjugate. */
function turn(s: Spectrum, cos: Float64Array, sin: Float64Array): void {
  const { re, im } = s;
  const size = re.length;
  const half = size / 2;
  re[0] *= cos[0];
  im[0] *= cos[0];
  re[half] *= cos[half];
  im[half] *= cos[half];
  for (let k = 1, m = size - 1; k < half; k++, m--) {
    const c = cos[k];
    const d = sin[k];
    const a = re[k];
    const b = im[k];
    re[k] = a * c - b * d;
    im[k] = a * d + b * c;
    const e = re[m];
    const f = im[m];
    re[m] = e * c + f * d;
    im[m] = f * c - e * d;
  }
}

/** Moves a frame by a fraction of a sample: what keeps copies exact in the bands of lower rate. */
function makeRamp(size: number, fraction: number): { re: Float64Array; im: Float64Array } {
  const re = new Float64Array(size / 2 + 1);
  const im = new Float64Array(size / 2 + 1);
  for (let k = 0; k <= size / 2; k++) {
    re[k] = Math.cos((2 * Math.PI * k * fraction) / size);
    im[k] = Math.sin((2 * Math.PI * k * fraction) / size);
  }
  return { re, im };
}

/** The turn that takes `from` to `to` at a bin, all pairs and channels together by their strength. */
function rotationBetween(
  k: number,
  size: number,
  from: readonly Spectrum[],
  to: readonly Spectrum[],
): { re: number; im: number } {
  let pr = 0;
  let pi = 0;
  const m = (size - k) % size;
  for (let p = 0; p < from.length; p++) {
    const x = from[p];
    const y = to[p];
    pr += y.re[k] * x.re[k] + y.im[k] * x.im[k] + y.re[m] * x.re[m] + y.im[m] * x.im[m];
    pi += y.im[k] * x.re[k] - y.re[k] * x.im[k] - (y.im[m] * x.re[m] - y.re[m] * x.im[m]);
  }
  const length = Math.hypot(pr, pi);
  return length > 0 ? { re: pr / length, im: pi / length } : { re: 1, im: 0 };
}

function powers(spectra: readonly Spectrum[], size: number): Float64Array {
  const power = new Float64Array(size / 2 + 1);
  for (const { re, im } of spectra)
    for (let k = 0; k <= size / 2; k++) {
      const m = (size - k) % size;
      power[k] += re[k] * re[k] + im[k] * im[k] + re[m] * re[m] + im[m] * im[m];
    }
  return power;
}

function add(frame: Spectrum, window: Float64Array, to: Spectrum, at: number): void {
  const low = Math.max(0, -at);
  const high = Math.min(window.length, to.re.length - at);
  for (let i = low; i < high; i++) {
    to.re[at + i] += frame.re[i] * window[i];
    to.im[at + i] += frame.im[i] * window[i];
  }
}

function addNorm(window: Float64Array, to: Float64Array, at: number, limit: number): void {
  const low = Math.max(0, -at);
  const high = Math.min(window.length, to.length - at, limit);
  for (let i = low; i < high; i++) to[at + i] += window[i] * window[i];
}
