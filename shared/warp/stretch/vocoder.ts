import { type LentDoubles, takeDoubles } from '../../math/kernel-places.ts';
import type { Hertz, Samples, Share } from '../../math/units.ts';
import { type Band, type BandSignals, type Leading, leadingBins } from '../bands/bands.ts';
import {
  copySpectrum,
  Framer,
  Spectra,
  SpectrumStore,
  type Turns,
  turn,
} from '../bands/spectrum.ts';
import type { Decay } from '../plan/decay.ts';
import { raise } from '../plan/held-levels.ts';
import type { Piece } from '../plan/plan.ts';
import { sourceAt } from '../plan/time-plan.ts';
import { type Bridge, bridgePartials } from './bridge.ts';
import { lookAtJoin } from './join.ts';
import { lockPhases } from './lock.ts';
import { Noise } from './noise.ts';
import { OverlapAdd } from './overlap-add.ts';

/** Seconds of the crossfade that ends at a kept attack. */
const crossfade = 0.002;
/** Fastest natural decay that is followed, in dB a second. */
const fastest = 30;

/** Share of what dies away below which pitch is taken to move. */
const moving = 0.5;

/** From which length (s) of a piece on noise is stirred where it is drawn out. */
const drawnOut = 0.3;

/** Level (dB a second) that sound loses by itself; none where it is sustained, since there the map says it. */
const dying = ({ rate, share }: Decay): number => Math.min(fastest, rate) * share;

/** Spectra at work, one for each lead pair; the two first ones trade places from frame to frame. */
interface Bench {
  now: Spectra;
  last: Spectra;
  /** The source one hop before this frame, or after the one before it. */
  readonly beside: Spectra;
  readonly written: Spectra;
  readonly work: Spectra;
  /** Of the piece that is rendered. */
  readonly turns: Spectra;
  readonly power: LentDoubles;
  readonly framer: Framer;
  readonly leading: Leading;
  readonly noise: Noise;
  /** Spectra that a piece of this window needs from its beginning on. */
  readonly store: SpectrumStore;
}

/** The piece being rendered. Positions and lengths are band samples. */
interface Run {
  readonly piece: Piece;
  readonly bench: Bench;
  /** Moves frames by the fraction of a sample that copies of whole samples leave. */
  readonly ramp: Turns | undefined;
  readonly fraction: number;
  /** From where on the source belongs to the next piece. */
  readonly limit: Samples;
  readonly turns: Turns;
  /** The next frame and the last one. */
  frame: number;
  readonly lastFrame: number;
  /** Source position of the frame before. */
  previous: Samples;
  /** Whether nothing was turned yet. */
  plain: boolean;
  /** What is added to copies until turns take over. */
  bridge: Bridge | undefined;
  /** Whether `last` and `written` hold the frame before this one. */
  known: boolean;
}

/**
 * The stretch of one band, piece by piece and frame by frame: frames of the source, each turned by one
 * rotation for each bin, overlapped and added. Frames that run at slope 1 from an attack are copies.
 */
export class BandVocoder {
  private readonly benches = new Map<number, Bench>();
  private readonly sum: OverlapAdd;
  private readonly fade: number;
  private readonly padding: number;
  private run: Run | undefined;
  /** How many pieces were begun. */
  private begun = 0;

  /** @param bridgedFor share of half a window after an attack for which a bridge leads over it; undefined for none */
  constructor(
    private readonly band: Band,
    private readonly pieces: readonly Piece[],
    private readonly signals: BandSignals,
    padding: Samples,
    private readonly sampleRate: Hertz,
    private readonly bridgedFor: Share | undefined,
  ) {
    this.padding = padding / band.decimation;
    this.fade = (crossfade * sampleRate) / band.decimation;
    this.memory = pieces.reduce((most, { window }) => Math.max(most, window), 0) + 1;
    this.sum = new OverlapAdd(signals, this.padding, this.fade, this.memory);
  }

  /** Leaves its memory to others; nothing can be rendered from then on. */
  close(): void {
    this.sum.leave();
    for (const bench of this.benches.values()) {
      const { now, last, beside, written, work, turns, power, noise, store } = bench;
      for (const part of [now, last, beside, written, work, turns, power, noise]) part.leave();
      store.restart();
    }
    this.benches.clear();
  }

  /** How many band samples before what is finished may still be looked at. */
  readonly memory: Samples;

  /** Up to where (strips' position) the outputs are finished; the crossfade of the next piece is still to come. */
  get finished(): Samples {
    if (!this.run && this.begun === this.pieces.length) return Number.POSITIVE_INFINITY;
    const next = this.pieces[this.begun];
    const own = this.run ? this.sum.finished : Number.POSITIVE_INFINITY;
    return this.padding + Math.min(own, next ? this.startOf(next) : own);
  }

  /** Renders until the outputs are finished up to a position of the strips, or all is done. */
  advance(until: Samples): void {
    while (this.finished < until) {
      this.run ??= this.begin();
      const { run, sum } = this;
      const next = this.pieces[this.begun];
      // Where the next piece fades in by then all of this one is asked for.
      const asked =
        next && this.startOf(next) + this.padding < until
          ? Number.POSITIVE_INFINITY
          : until - this.padding;
      while (run.frame <= run.lastFrame && sum.finished < asked) this.step(run);
      if (sum.finished >= asked) continue;
      sum.close();
      this.run = undefined;
    }
  }

  /** Where a piece begins to fade in. */
  private startOf(piece: Piece): Samples {
    return Math.ceil(piece.out / this.band.decimation - this.fade);
  }

  private begin(): Run {
    const { pieces, signals, padding } = this;
    const { decimation } = this.band;
    const index = this.begun++;
    const piece = pieces[index];
    const first = index === 0;
    const last = index === pieces.length - 1;
    const bench = this.benchFor(piece.window);
    const { framer } = bench;
    bench.noise.restart();
    bench.store.restart();
    const { size } = framer;
    const half = size / 2;
    const hop = size / 4;
    const begin = piece.out / decimation;
    const from = first ? -padding : this.startOf(piece);
    const to = Math.max(from, Math.ceil(piece.outEnd / decimation + (last ? padding : 0)));
    const shift = (piece.source - piece.out) / decimation;
    const fraction = shift - Math.round(shift);
    const [turns] = bench.turns.pairs;
    turns.re.fill(1);
    turns.im.fill(0);
    const join =
      first || to === from || this.bridgedFor === undefined
        ? undefined
        : lookAtJoin(piece, this.band, signals, padding, framer, bench.store);
    if (piece.gains) raise(turns, piece.gains);
    const bridge = join && bridgePartials(join, signals, turns);
    this.sum.open(framer, Math.round(shift), from, to, first ? Number.NEGATIVE_INFINITY : begin);
    return {
      piece,
      bench,
      ramp: fraction === 0 ? undefined : framer.ramp(fraction),
      fraction,
      limit: last ? Number.POSITIVE_INFINITY : Math.ceil(piece.sourceEnd / decimation),
      turns,
      frame: Math.ceil((from - half) / hop),
      lastFrame: to === from ? Number.NEGATIVE_INFINITY : Math.floor((to + half - 1) / hop),
      previous: Number.NaN,
      plain: !piece.gains,
      bridge,
      known: false,
    };
  }

  private look(run: Run, centre: number, { pairs: to }: Spectra): void {
    const { framer } = run.bench;
    const { padding } = this;
    const { lead } = this.signals;
    const first = centre - framer.size / 2 + padding;
    for (let p = 0; p < lead.length; p++) {
      framer.analyse(lead[p], first, run.limit + padding, to[p]);
      if (run.ramp) turn(to[p], run.ramp);
    }
  }

  /** One frame. */
  private step(run: Run): void {
    const { signals, padding, sum } = this;
    const { decimation } = this.band;
    const { piece, bench, ramp, turns, limit } = run;
    const { framer, beside, written, power } = bench;
    const work = bench.work.pairs[0];
    const half = framer.size / 2;
    const hop = framer.size / 4;
    const u = run.frame++ * hop;
    const r = Math.round(sourceAt(piece.knots, u * decimation) / decimation - run.fraction);
    const { previous } = run;
    const even = Number.isNaN(previous) || r - previous === hop;
    run.previous = r;
    // Frames with nothing done to them are not taken apart: they are the source itself, moved.
    if (run.plain && even && !ramp && !run.bridge) {
      sum.copy(u - half, limit - r + half);
      run.known = false;
      return;
    }
    sum.weigh(u - half, limit - r + half);
    const begin = piece.out / decimation;
    const crossed = run.bridge !== undefined && u >= begin + half * (this.bridgedFor ?? 0);
    const still = even && (run.plain || u < begin + half) && !crossed;
    const turning = !Number.isNaN(previous) && !still;
    if (turning && !run.known) {
      this.look(run, previous, bench.last);
      written.copyFrom(bench.last);
    }
    this.look(run, r, bench.now);
    if (turning) {
      // What it added stands in the frame before: the turns go on from there.
      run.bridge = undefined;
      run.plain = false;
      // Off slope 1 the way up to this frame shows pitch as it is a little later than half-way from the
      // frame before, the way on from that one as much earlier: by turns, so that pitch that moves lags by
      // neither. Where nothing moves the frame's own way is surer, as no attack to come reaches into it.
      const onwards =
        !even &&
        piece.decay.share < moving &&
        run.frame % 2 === 0 &&
        previous + hop + half <= limit;
      if (!even) this.look(run, onwards ? previous + hop : r - hop, beside);
      bench.now.powers(power);
      // Sound that dies away goes on dying as fast as it does, whatever time is made of it.
      const free = ((r - previous - hop) * decimation * dying(piece.decay)) / this.sampleRate;
      const gain = 10 ** (free / 20);
      bench.noise.lower(turns);
      lockPhases(
        power,
        onwards
          ? { last: bench.last, later: beside, now: bench.now }
          : { earlier: even ? bench.last : beside },
        written,
        turns,
        bench.leading,
        Math.min(1, gain),
        Math.max(1, gain),
      );
      const slope = (r - previous) / hop;
      // Too short to be heard as a tone, and what is stirred before an attack might pass for one.
      const long = piece.outEnd - piece.out > drawnOut * this.sampleRate;
      if (slope > 1 || long) bench.noise.stir(power, turns, slope, (u / hop) * 4096 + decimation);
    }
    for (let p = 0; p < signals.lead.length; p++) {
      if (run.plain) copySpectrum(bench.now.pairs[p], written.pairs[p]);
      else turn(bench.now.pairs[p], turns, written.pairs[p]);
      run.bridge?.addToLead(written.pairs[p], p, u - half);
    }
    for (let p = 0; p < signals.sources.length; p++) {
      if (signals.single) {
        sum.add(written.pairs[p], p, u - half);
        continue;
      }
      framer.analyse(signals.sources[p], r - half + padding, limit + padding, work);
      if (ramp) turn(work, ramp);
      if (!run.plain) turn(work, turns);
      run.bridge?.addToSource(work, p, u - half);
      sum.add(work, p, u - half);
    }
    const spare = bench.last;
    bench.last = bench.now;
    bench.now = spare;
    run.known = true;
  }

  private benchFor(size: number): Bench {
    let bench = this.benches.get(size);
    if (!bench) {
      const make = () => new Spectra(this.signals.lead.length, size);
      bench = {
        now: make(),
        last: make(),
        beside: make(),
        written: make(),
        work: new Spectra(1, size),
        turns: new Spectra(1, size / 2 + 1),
        power: takeDoubles(size / 2 + 1),
        framer: new Framer(size),
        leading: leadingBins(this.band, size),
        noise: new Noise(size / 2 + 1),
        store: new SpectrumStore(size),
      };
      this.benches.set(size, bench);
    }
    return bench;
  }
}
