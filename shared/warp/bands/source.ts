import { Place } from '../../math/kernel-places.ts';
import type { Samples } from '../../math/units.ts';
import type { Reader } from './reader.ts';
import type { BandSplitter } from './splitter.ts';
import { Strip } from './strip.ts';
import type { Workspace } from './workspace.ts';

/** How many windows of a band are brought to the kernels at a time. */
const windows = 8;

/** A band of a recording, computed where it is looked at. */
class SourceStrip extends Strip {
  /** Samples `placedFrom` to `placedEnd` are where kernels find them: what was split once stays as it is. */
  private place: Place | null | undefined;
  private placedFrom: Samples = 0;
  private placedEnd: Samples = 0;
  private readonly found = { re: 0, im: 0 };

  /** @param placedRoom how many samples are brought to the kernels at a time */
  constructor(
    length: Samples,
    room: Samples,
    private readonly placedRoom: Samples,
    workspace: Workspace,
    private readonly fetch: (strip: SourceStrip) => void,
  ) {
    super(length, room, workspace);
  }

  override close(): void {
    this.place?.leave();
    this.place = null;
    super.close();
  }

  override placed(first: Samples, last: Samples): typeof this.found | undefined {
    if (this.place === undefined) this.place = Place.take(this.placedRoom);
    const { place, found } = this;
    if (!place || 2 * (last - first) > this.placedRoom) return undefined;
    if (first < this.placedFrom || last > this.placedEnd) this.bring(place, first, last);
    found.re = place.at + (first - this.placedFrom) * 4;
    found.im = found.re + this.placedRoom * 4;
    return found;
  }

  /** Brings them with some before, where the next look may be, and as many after as there is room for. */
  private bring(place: Place, first: Samples, last: Samples): void {
    const { base, re, im, placedRoom } = this;
    const from = Math.max(base, 2 * first - last);
    const end = Math.min(this.end, from + placedRoom);
    const { room } = place.kernels;
    room.floats(place.at, end - from).set(re.subarray(from - base, end - base));
    room.floats(place.at + placedRoom * 4, end - from).set(im.subarray(from - base, end - base));
    this.placedFrom = from;
    this.placedEnd = end;
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
      const length = splitter.lengthOf(b, reader.length);
      return new SourceStrip(length, room, windows * band.window, workspace, (strip) => {
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
