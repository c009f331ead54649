import type { Samples } from '../math/units.ts';
import type { BandSplitter } from './band-splitter.ts';
import type { Reader } from './reader.ts';
import { Strip } from './strip.ts';
import type { Workspace } from './workspace.ts';

/** A band of a recording, computed where it is looked at. */
class SourceStrip extends Strip {
  constructor(
    length: Samples,
    room: Samples,
    workspace: Workspace,
    private readonly fetch: (strip: SourceStrip) => void,
  ) {
    super(length, room, workspace);
  }

  override reach(first: Samples, last: Samples): void {
    if (first < this.base) {
      // Block by block from the start of what was let go.
      this.restart(first);
      this.fetch(this);
      this.reach(first, last);
    }
    while (this.end < Math.min(last, this.length)) this.fetch(this);
  }
}

/**
 * The bands of a pair of channels, split as they are asked for: a few blocks are in memory, and what was
 * let go is split again if someone goes back there.
 */
export class BandSource {
  readonly strips: readonly Strip[];

  /**
   * @param channel the first of the pair
   * @param keep full-rate samples that stay in memory behind the newest
   * @param wanted how many bands, from the lowest
   */
  constructor(
    private readonly reader: Reader,
    private readonly channel: number,
    private readonly splitter: BandSplitter,
    private readonly keep: Samples,
    wanted: number,
    workspace: Workspace,
  ) {
    this.strips = splitter.bands.slice(0, wanted).map((band, b) => {
      const hop = splitter.hop / band.decimation;
      // Some more than is kept, so that it doesn't slide at each block.
      const room = Math.ceil(keep / band.decimation) + 4 * hop;
      return new SourceStrip(splitter.lengthOf(b, reader.length), room, workspace, (strip) => {
        if (strip.end % hop !== 0) strip.restart(strip.end - (strip.end % hop));
        this.fetch(strip.end / hop);
      });
    });
  }

  /** Leaves its memory to others. */
  close(): void {
    for (const strip of this.strips) strip.close();
  }

  /** Splits a block for every band that ends where it begins. */
  private fetch(n: number): void {
    const { splitter, keep } = this;
    splitter.load(this.reader, this.channel, n);
    this.strips.forEach((strip, b) => {
      const { decimation } = splitter.bands[b];
      if (strip.end * decimation !== n * splitter.hop || strip.end >= strip.length) return;
      strip.forget(strip.end - keep / decimation);
      splitter.take(b, strip);
    });
  }
}
