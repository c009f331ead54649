import type { FrameRows } from './frame-rows.ts';

/** Least flux of a peak. */
const least = 0.02;
/** What a threshold is at least, and how much of the mean flux around a frame it is over that. */
const floor = 0.025;
const over = 1.5;

/** A frame where flux is at its peak and over its threshold. */
export interface FluxPeak {
  readonly frame: number;
  readonly threshold: number;
}

/**
 * Frames that none within `near` frames passes, over a threshold by the mean flux within `around` frames, of
 * which no one counts for more than a quarter of the peak.
 *
 * @param rows where kernels work on it; the plain form, null, gives the same to the last bit
 */
export function fluxPeaks(
  flux: Float32Array,
  near: number,
  around: number,
  rows: FrameRows | null,
): FluxPeak[] {
  const peaks: FluxPeak[] = [];
  const { length } = flux;
  if (rows) {
    const most = rows.room - 2 * around;
    for (let first = 1; first < length; first += most) {
      const begin = Math.max(0, first - around);
      const end = Math.min(length, first + most);
      const stretch = flux.subarray(begin, Math.min(length, end + around));
      rows.floats(rows.at, stretch.length).set(stretch);
      const count = rows.kernel.fluxPeaks(
        ...([rows.at, stretch.length, first - begin, end - begin, near, around] as const),
        ...([least, floor, over, rows.found] as const),
      );
      const found = rows.doubles(rows.found, 2 * count);
      for (let i = 0; i < 2 * count; i += 2)
        peaks.push({ frame: begin + found[i], threshold: found[i + 1] });
    }
    return peaks;
  }
  for (let f = 1; f < length; f++) {
    const value = flux[f];
    if (value < least) continue;
    let peak = true;
    for (let i = Math.max(0, f - near); i <= Math.min(length - 1, f + near) && peak; i++)
      if (flux[i] > value || (flux[i] === value && i < f)) peak = false;
    if (!peak) continue;
    let sum = 0;
    let n = 0;
    for (let i = Math.max(0, f - around); i <= Math.min(length - 1, f + around); i++) {
      sum += Math.min(flux[i], value / 4);
      n++;
    }
    const threshold = floor + over * (sum / n);
    if (value >= threshold) peaks.push({ frame: f, threshold });
  }
  return peaks;
}
