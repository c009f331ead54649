import type { Hertz, Samples } from '../math/units.ts';
import type { Band, BandSignals } from './bands.ts';
import { holdPartials } from './held.ts';
import { lockPhases } from './lock.ts';
import type { Piece } from './plan.ts';
import {
  copySpectrum,
  Framer,
  fractionRamp,
  makeSpectrum,
  powersOf,
  type Spectrum,
  turn,
} from './spectrum.ts';
import { sourceAt } from './time-plan.ts';

/** Seconds of the crossfade that ends at a kept attack. */
const crossfade = 0.002;
/** Fastest natural decay that is followed, in dB a second. */
const fastest = 30;

/** Spectra at work, one for each lead pair; the two last ones trade places from frame to frame. */
interface Bench {
  now: Spectrum[];
  last: Spectrum[];
  readonly earlier: Spectrum[];
  readonly written: Spectrum[];
  readonly work: Spectrum;
  readonly power: Float64Array;
  readonly framer: Framer;
}

/** What a piece adds up in: sound, and what windows each place was given (of copied frames apart). */
interface Room {
  readonly buffers: Spectrum[];
  readonly weight: Float64Array;
  readonly copied: Float64Array;
}

/**
 * The stretch of one band, piece by piece: frames of the source, each turned by one rotation for each
 * bin, overlapped and added. Frames that run at slope 1 from an attack are copies.
 */
export class BandVocoder {
  private readonly benches = new Map<number, Bench>();
  private room: Room | undefined;
  private readonly fade: number;
  private readonly padding: number;

  constructor(
    private readonly band: Band,
    private readonly signals: BandSignals,
    padding: Samples,
    private readonly sampleRate: Hertz,
    private readonly held: boolean,
  ) {
    this.padding = padding / band.decimation;
    this.fade = (crossfade * sampleRate) / band.decimation;
  }

  /** Renders one piece into the outputs, crossfading from what stands there before its attack. */
  render(piece: Piece, first: boolean, last: boolean): void {
    const { decimation } = this.band;
    const { signals, padding } = this;
    const bench = this.benchFor(piece.window);
    const { framer, earlier, written, work, power } = bench;
    const size = framer.size;
    const half = size / 2;
    const hop = size / 4;
    const begin = piece.out / decimation;
    const from = first ? -padding : Math.ceil(begin - this.fade);
    const to = Math.ceil(piece.outEnd / decimation + (last ? padding : 0));
    const count = Math.max(0, to - from);
    if (count === 0) return;
    const shift = (piece.source - piece.out) / decimation;
    const fraction = shift - Math.round(shift);
    const limit = last ? Number.POSITIVE_INFINITY : Math.ceil(piece.sourceEnd / decimation);
    const ramp = fraction === 0 ? undefined : fractionRamp(size, fraction);
    const turns = makeSpectrum(half + 1);
    turns.re.fill(1);
    let plain =
      first || !this.held || !holdPartials(piece, this.band, signals, padding, framer, turns);
    const { buffers, weight, copied } = this.roomFor(count);
    // Frames with nothing done to them are not taken apart: they are the source itself, moved.
    let anyCopied = false;

    const look = (centre: number, to: readonly Spectrum[]): void => {
      signals.lead.forEach((pair, p) => {
        framer.analyse(pair, centre - half + padding, limit + padding, to[p]);
        if (ramp) turn(to[p], ramp);
      });
    };
    let previous = Number.NaN;
    // Whether `last` and `written` hold the frame before this one.
    let known = false;
    const lastFrame = Math.floor((to + half - 1) / hop);
    for (let k = Math.ceil((from - half) / hop); k <= lastFrame; k++) {
      const u = k * hop;
      const at = u - half - from;
      const r = Math.round(sourceAt(piece.knots, u * decimation) / decimation - fraction);
      const start = r - half + padding;
      const even = Number.isNaN(previous) || r - previous === hop;
      if (plain && even && !ramp) {
        framer.weigh(copied, at, limit - r + half);
        known = false;
        previous = r;
        anyCopied = true;
        continue;
      }
      framer.weigh(weight, at, limit - r + half);
      const turning = !Number.isNaN(previous) && !(even && (plain || u < begin + half));
      if (turning && !known) {
        look(previous, bench.last);
        signals.lead.forEach((_, p) => {
          copySpectrum(bench.last[p], written[p]);
        });
      }
      look(r, bench.now);
      if (turning) {
        plain = false;
        if (!even) look(r - hop, earlier);
        powersOf(bench.now, power);
        // Sound that dies away goes on dying as fast as it does, whatever time is made of it.
        const free =
          ((r - previous - hop) * decimation * fastest * piece.decay.share) / this.sampleRate;
        const gain = 10 ** (free / 20);
        lockPhases(
          power,
          even ? bench.last : earlier,
          written,
          turns,
          Math.min(1, gain),
          Math.max(1, gain),
        );
      }
      signals.lead.forEach((_, p) => {
        if (plain) copySpectrum(bench.now[p], written[p]);
        else turn(bench.now[p], turns, written[p]);
      });
      signals.sources.forEach((pair, p) => {
        if (signals.single) copySpectrum(written[p], work);
        else {
          framer.analyse(pair, start, limit + padding, work);
          if (ramp) turn(work, ramp);
          if (!plain) turn(work, turns);
        }
        framer.add(work, buffers[p], at);
      });
      const spare = bench.last;
      bench.last = bench.now;
      bench.now = spare;
      known = true;
      previous = r;
    }
    if (anyCopied) {
      signals.sources.forEach((pair, p) => {
        framer.copy(pair, from + Math.round(shift) + padding, copied, buffers[p]);
      });
      for (let i = 0; i < count; i++) weight[i] += copied[i];
    }
    this.write(buffers, weight, from, begin, first, size);
  }

  /** Silent buffers for a piece, the same memory from piece to piece. */
  private roomFor(count: number): Room {
    let room = this.room;
    if (!room || room.weight.length < count) {
      const size = Math.ceil(count * 1.25);
      room = {
        buffers: this.signals.sources.map(() => makeSpectrum(size)),
        weight: new Float64Array(size),
        copied: new Float64Array(size),
      };
      this.room = room;
    }
    const cut = (array: Float64Array) => array.subarray(0, count).fill(0);
    return {
      buffers: room.buffers.map(({ re, im }) => ({ re: cut(re), im: cut(im) })),
      weight: cut(room.weight),
      copied: cut(room.copied),
    };
  }

  private benchFor(size: number): Bench {
    let bench = this.benches.get(size);
    if (!bench) {
      const make = () => this.signals.lead.map(() => makeSpectrum(size));
      bench = {
        now: make(),
        last: make(),
        earlier: make(),
        written: make(),
        work: makeSpectrum(size),
        power: new Float64Array(size / 2 + 1),
        framer: new Framer(size),
      };
      this.benches.set(size, bench);
    }
    return bench;
  }

  /** Fades what stands in the outputs before the attack into the piece, then writes the piece. */
  private write(
    buffers: readonly Spectrum[],
    weight: Float64Array,
    from: number,
    begin: number,
    first: boolean,
    size: number,
  ): void {
    // Where next to no window reaches (before a hard cut), nothing is blown up.
    const floor = 0.05 * size;
    this.signals.outputs.forEach((pair, p) => {
      const { re, im } = buffers[p];
      const low = Math.max(0, -(from + this.padding));
      const high = Math.min(re.length, pair.re.length - from - this.padding);
      for (let i = low, at = from + low + this.padding; i < high; i++, at++) {
        const scale = 1 / Math.max(weight[i], floor);
        const x = first ? 1 : (from + i - begin + this.fade) / this.fade;
        if (x >= 1) {
          pair.re[at] = re[i] * scale;
          pair.im[at] = im[i] * scale;
        } else if (x > 0) {
          const share = 0.5 - 0.5 * Math.cos(Math.PI * x);
          pair.re[at] += (re[i] * scale - pair.re[at]) * share;
          pair.im[at] += (im[i] * scale - pair.im[at]) * share;
        }
      }
    });
  }
}
