import type { Hertz } from '../../math/units.ts';
import { bandsFor } from './bands.ts';
import { BandSplitter } from './splitter.ts';

/**
 * Memory that one warp leaves to the next. Many short warps in a row, as of a loop's slices, would each
 * leave some megabytes behind, which are only collected once there are many of them.
 */
export class Workspace {
  private readonly floatsLeft: Float32Array[] = [];
  private readonly splitters = new Map<Hertz, BandSplitter>();

  /** An array of that size or a little more, with anything in it. */
  floats(size: number): Float32Array {
    return fitting(this.floatsLeft, size) ?? new Float32Array(size);
  }

  /** Takes arrays back that are no longer used. */
  leave(...arrays: readonly Float32Array[]): void {
    this.floatsLeft.push(...arrays);
  }

  splitter(sampleRate: Hertz): BandSplitter {
    let splitter = this.splitters.get(sampleRate);
    if (!splitter) {
      splitter = new BandSplitter(bandsFor(sampleRate));
      this.splitters.set(sampleRate, splitter);
    }
    return splitter;
  }
}

/** Takes the smallest that is large enough, and not far too large, out of a list. */
function fitting(list: Float32Array[], size: number): Float32Array | undefined {
  let best = -1;
  for (let i = 0; i < list.length; i++) {
    const { length } = list[i];
    if (length < size || length > 2 * size + 4096) continue;
    if (best < 0 || length < list[best].length) best = i;
  }
  return best < 0 ? undefined : list.splice(best, 1)[0];
}
