import { decibelsOf } from '../../math/decibels.ts';
import type { Decibels } from '../../math/units.ts';
import type { Frames } from './attacks.ts';
import type { FrameRows } from './frame-rows.ts';

/**
 * Power after over power before in each of the warp's bands, across a frame.
 *
 * @param ms frames in a millisecond
 * @param rows where kernels work on it; the plain form, null, gives the same to the last bit
 */
export function risesAcross(
  frames: Frames,
  at: number,
  ms: number,
  rows: FrameRows | null,
): Decibels[] {
  const mean = (from: number, to: number): number[] => {
    const first = Math.max(0, from);
    const end = Math.max(first, Math.min(frames.count, to + 1));
    return rows ? meansByKernel(frames, first, end, rows) : plainMeans(frames, first, end);
  };
  const before = mean(at - Math.round(16 * ms), at - Math.round(5 * ms));
  return mean(at, at + Math.round(8 * ms)).map((after, b) => {
    if (after <= 0) return 0;
    return before[b] <= 0 ? 100 : Math.min(100, decibelsOf(after / before[b]));
  });
}

/** Mean power of each of the warp's bands in some frames; 0 where there are none. */
function meansByKernel(
  { width, split }: Frames,
  first: number,
  end: number,
  { kernel, at, found, bring, doubles, whole }: FrameRows,
): number[] {
  const bands = split.length - 1;
  const splitAt = found + bands * 8;
  bring(first, end);
  whole(splitAt, split.length).set(split);
  kernel.meanPowers(at, width, end - first, splitAt, bands, found);
  return Array.from(doubles(found, bands));
}

function plainMeans({ width, power, split }: Frames, first: number, end: number): number[] {
  return split.slice(1).map((edge, b) => {
    let sum = 0;
    for (let f = first; f < end; f++)
      for (let k = split[b]; k < edge; k++) sum += power[f * width + k];
    return end > first ? sum / (end - first) : 0;
  });
}
