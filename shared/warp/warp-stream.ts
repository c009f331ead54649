import type { Progress } from '../math/progress.ts';
import type { Samples, Seconds, Share } from '../math/units.ts';
import type { Audio } from '../take/audio.ts';
import type { LeadShare } from './bands/bands.ts';
import { type Reader, readerOf, readerOfSum } from './bands/reader.ts';
import { BandSource } from './bands/source.ts';
import type { BandSplitter } from './bands/splitter.ts';
import { Strip } from './bands/strip.ts';
import { Workspace } from './bands/workspace.ts';
import { decide, type WarpWish } from './plan/decide.ts';
import type { WarpPlan } from './plan/plan.ts';
import { BandVocoder } from './stretch/vocoder.ts';

/** Blocks of the split that stay in memory behind the newest; so far may one band lag behind another. */
const blocksKept = 8;
/** Up to this length a take's bands are kept from planning to rendering. */
const short: Seconds = 24;

/**
 * For which share of half a window each band's bridges over attacks last. Low notes lie closer together, so it is known
 * for less long what each of them does. High up attacks count most.
 */
const bridgedFor: readonly (Share | undefined)[] = [0.75, 1, undefined];

/** Channels of one part that are rendered as one complex signal. */
interface Pair {
  readonly source: BandSource;
  /** The bands of the result. */
  readonly bands: readonly Strip[];
  /** The block of the result that was rendered last. */
  readonly block: readonly [Float32Array, Float32Array];
}

/** Where the pairs of an input have their part in a sum of `all` channels, as `readerOfSum` adds them. */
function sharesOf(channels: number, all: number): LeadShare[] {
  if (channels === 1)
    return [
      {
        pairs: Array.from({ length: Math.ceil(all / 2) }, (_, pair) => ({
          pair,
          bothSides: 2 * pair + 1 < all,
        })),
      },
    ];
  return Array.from({ length: Math.ceil(channels / 2) }, (_, pair) => ({
    pairs: [{ pair, bothSides: false }],
  }));
}

/**
 * A warp as it is rendered, from its start on, as much at a time as is asked for: the same samples come
 * whatever the steps. Besides the inputs it holds a second or two of bands, however long the take.
 */
export class WarpStream {
  readonly plan: WarpPlan;
  /** Samples that were read. */
  position: Samples = 0;
  private readonly splitter: BandSplitter;
  private readonly vocoders: readonly BandVocoder[];
  /** Part by part. */
  private readonly parts: readonly (readonly Pair[])[];
  private readonly pairs: readonly Pair[];
  private readonly lead: readonly BandSource[];
  private rendered = 0;
  private closed = false;

  /**
   * Decides how `inputs`, parts of one performance, are warped, and opens the result.
   * @param progress of the decisions
   */
  constructor(
    inputs: readonly Audio[],
    private readonly wish: WarpWish,
    progress?: Progress,
    private readonly workspace = new Workspace(),
  ) {
    const sum = readerOfSum(inputs);
    const splitter = workspace.splitter(sum.sampleRate);
    const { bands } = splitter;
    this.splitter = splitter;
    const open = (reader: Reader, keep: Samples, wanted = bands.length) =>
      Array.from(
        { length: Math.ceil(reader.channels / 2) },
        (_, p) => new BandSource(reader, 2 * p, splitter, keep, wanted, workspace),
      );
    const least = blocksKept * splitter.hop;
    const isShort = sum.length <= short * sum.sampleRate;
    const lead = open(sum, isShort ? sum.length + 2 * splitter.padding : least);
    const ahead = isShort ? lead : open(sum, least, 2);
    try {
      this.plan = decide(sum, ahead, splitter, wish, progress);
    } catch (error) {
      // Cancelled: nobody will close what was opened.
      for (const source of lead) source.close();
      throw error;
    } finally {
      if (!isShort) for (const source of ahead) source.close();
    }
    this.lead = lead;
    this.parts = inputs.map((input) =>
      (inputs.length === 1 ? lead : open(readerOf(input), least)).map((source) => ({
        source,
        bands: bands.map(
          (_, b) =>
            new Strip(
              splitter.lengthOf(b, wish.length),
              (4 * splitter.hop) / bands[b].decimation,
              workspace,
            ),
        ),
        block: [workspace.floats(splitter.hop), workspace.floats(splitter.hop)],
      })),
    );
    this.pairs = this.parts.flat();
    const shares = inputs.flatMap((input) => sharesOf(input.channels.length, sum.channels));
    this.vocoders = this.plan.bands.map(
      ({ band, pieces }, b) =>
        new BandVocoder(
          band,
          pieces,
          {
            lead: lead.map(({ strips }) => strips[b]),
            sources: this.pairs.map(({ source }) => source.strips[b]),
            outputs: this.pairs.map((pair) => pair.bands[b]),
            shares,
            single: inputs.length === 1,
          },
          splitter.padding,
          sum.sampleRate,
          bridgedFor[b],
        ),
    );
  }

  /** Renders the next samples, as many as the arrays hold: `to[i][c]` is channel `c` of input `i`. Past the end: silence. */
  read(to: readonly (readonly Float32Array[])[]): void {
    const { hop } = this.splitter;
    const asked = to[0]?.[0]?.length ?? 0;
    const count = Math.min(asked, this.wish.length - this.position);
    for (let done = 0; done < count; ) {
      if (this.position === this.rendered) this.renderBlock();
      const at = this.position % hop;
      const step = Math.min(count - done, this.rendered - this.position);
      to.forEach((channels, i) => {
        channels.forEach((channel, c) => {
          const { block } = this.parts[i][c >> 1];
          channel.set(block[c & 1].subarray(at, at + step), done);
        });
      });
      done += step;
      this.position += step;
    }
    if (count < asked)
      for (const channels of to) for (const channel of channels) channel.fill(0, count);
  }

  /** Leaves its memory to the workspace; nothing can be read from then on. */
  close(): void {
    if (this.closed) return;
    this.closed = true;
    for (const source of this.lead) source.close();
    for (const { source, bands, block } of this.pairs) {
      if (!this.lead.includes(source)) source.close();
      for (const strip of bands) strip.close();
      this.workspace.leave(...block);
    }
    for (const vocoder of this.vocoders) vocoder.close();
  }

  private renderBlock(): void {
    const { splitter, vocoders, pairs, wish, rendered } = this;
    const { hop, guard, padding, bands } = splitter;
    const n = rendered / hop;
    const count = Math.min(hop, wish.length - rendered);
    // Padding is as long as the guard, so that a block looks at nothing before the strips' start.
    const first = rendered + padding - guard;
    vocoders.forEach((vocoder, b) => {
      const { decimation } = bands[b];
      const last = first + (b < bands.length - 1 ? splitter.block : guard + count);
      vocoder.advance(Math.min(Math.ceil(last / decimation), pairs[0].bands[b].length));
    });
    for (const pair of pairs) {
      const [left, right] = pair.block;
      splitter.join(pair.bands, n, left.subarray(0, count), right.subarray(0, count));
    }
    this.rendered += count;
    vocoders.forEach((vocoder, b) => {
      const { decimation } = bands[b];
      // A held partial is looked up in what was rendered one window before an attack.
      const next = Math.min((first + hop) / decimation, vocoder.finished - vocoder.memory);
      for (const pair of pairs) pair.bands[b].forget(Math.floor(next));
    });
  }
}
