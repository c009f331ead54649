import type { Hertz, Samples } from '../math/units.ts';
import { type Audio, lengthOf } from './audio.ts';

/** Lowest, highest and root mean square of the samples of each block, over all channels. */
export interface PeakRow {
  readonly min: Float32Array;
  readonly max: Float32Array;
  readonly rms: Float32Array;
}

/** One level of the pyramid: every entry speaks for `block` frames (the last one maybe for fewer). */
export interface PeakLevel extends PeakRow {
  readonly block: Samples;
}

/**
 * What a take looks like at every scale: levels from fine to coarse, each four times coarser. Plain
 * data, so a worker can hand it over.
 */
export interface Peaks {
  readonly sampleRate: Hertz;
  readonly length: Samples;
  readonly levels: readonly PeakLevel[];
}

const finest = 64;
const factor = 4;
/** A column is made of this many blocks at least, so that little is lost at its ends. */
const blocksAColumn = 8;
const fewest = 64;

function row(length: number): PeakRow {
  return {
    min: new Float32Array(length),
    max: new Float32Array(length),
    rms: new Float32Array(length),
  };
}

/** Lowest, highest and sum of squares over all channels, from `from` to `to` exclusive. */
function measure(audio: Audio, from: Samples, to: Samples) {
  let min = Number.POSITIVE_INFINITY;
  let max = Number.NEGATIVE_INFINITY;
  let sum = 0;
  for (const channel of audio.channels) {
    for (let i = from; i < to; i++) {
      const v = channel[i];
      if (v < min) min = v;
      if (v > max) max = v;
      sum += v * v;
    }
  }
  return { min, max, sum };
}

/** Builds the pyramid in one pass over the samples; it takes about a tenth of their memory or less. */
export function buildPeaks(audio: Audio): Peaks {
  const length = lengthOf(audio);
  const count = Math.ceil(length / finest);
  let level: PeakLevel = { block: finest, ...row(count) };
  for (let b = 0; b < count; b++) {
    const from = b * finest;
    const to = Math.min(from + finest, length);
    const { min, max, sum } = measure(audio, from, to);
    level.min[b] = min;
    level.max[b] = max;
    level.rms[b] = Math.sqrt(sum / ((to - from) * audio.channels.length));
  }
  const levels = [level];
  while (level.min.length > fewest) {
    level = coarser(level, length);
    levels.push(level);
  }
  return { sampleRate: audio.sampleRate, length, levels };
}

function coarser(fine: PeakLevel, length: Samples): PeakLevel {
  const count = Math.ceil(fine.min.length / factor);
  const level: PeakLevel = { block: fine.block * factor, ...row(count) };
  for (let b = 0; b < count; b++)
    gather(fine, length, b * factor, Math.min((b + 1) * factor, fine.min.length), level, b);
  return level;
}

/** Sets `target[at]` to what the blocks `first` to `last` (exclusive) of a level hold together. */
function gather(
  level: PeakLevel,
  length: Samples,
  first: number,
  last: number,
  target: PeakRow,
  at: number,
): void {
  let min = Number.POSITIVE_INFINITY;
  let max = Number.NEGATIVE_INFINITY;
  let sum = 0;
  let frames = 0;
  for (let b = first; b < last; b++) {
    const size = Math.min(level.block, length - b * level.block);
    if (level.min[b] < min) min = level.min[b];
    if (level.max[b] > max) max = level.max[b];
    sum += level.rms[b] * level.rms[b] * size;
    frames += size;
  }
  target.min[at] = min;
  target.max[at] = max;
  target.rms[at] = Math.sqrt(sum / frames);
}

/**
 * The look of a stretch, `from` to `to` in frames, in `columns` columns of equal width. A column shows
 * every block that it touches, so no peak is lost, but the outermost ones none that lies partly outside:
 * an attack that comes right after a slice is not the slice's. Columns outside the take are flat.
 */
export function peaksBetween(peaks: Peaks, from: Samples, to: Samples, columns: number): PeakRow {
  const result = row(columns);
  const width = (to - from) / columns;
  const level = peaks.levels.findLast((l) => blocksAColumn * l.block <= width) ?? peaks.levels[0];
  const { block } = level;
  for (let c = 0; c < columns; c++) {
    const left = Math.floor(from + c * width);
    const right = Math.max(Math.ceil(from + (c + 1) * width), left + 1);
    const start = Math.max(left, 0);
    const end = Math.min(right, peaks.length);
    if (end <= start) continue;
    let first = Math.floor(start / block);
    let last = Math.ceil(end / block);
    const inside = c === 0 ? Math.ceil(start / block) : first;
    const until = c === columns - 1 && end < peaks.length ? Math.floor(end / block) : last;
    if (until > inside) [first, last] = [inside, until];
    gather(level, peaks.length, first, last, result, c);
  }
  return result;
}
