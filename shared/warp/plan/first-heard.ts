import type { Samples } from '../../math/units.ts';
import type { Reader } from '../bands/reader.ts';
import type { FrameRows } from './frame-rows.ts';

/**
 * The first sample of a sound on the waveform, around the frames where its power showed: where a running
 * mean over half a millisecond passes both four times what was there before and a hundredth of what
 * comes. Where it doesn't (soft sounds under loud ones), where power showed.
 *
 * @param rows where kernels work on it; the plain form, null, gives the same to the last bit
 */
export function firstHeard(
  reader: Reader,
  seen: Samples,
  peak: Samples,
  rows: FrameRows | null,
): Samples {
  const ms = reader.sampleRate / 1000;
  const width = Math.max(2, Math.round(0.5 * ms));
  const from = Math.round(seen - 3 * ms);
  const to = Math.round(peak + 5 * ms);
  const first = Math.round(from - 8 * ms) - width;
  const length = to + 2 * width - first;
  const rise =
    rows && length <= rows.room
      ? riseByKernel(reader, first, length, width, from - first, to - first, rows)
      : plainRise(reader, first, length, width, from - first, to - first);
  return rise < 0 ? seen : first + rise;
}

/** Samples from `first` on to where the mean over `width` passes, looked for between `from` and `to`; -1 for nowhere. */
function riseByKernel(
  reader: Reader,
  first: Samples,
  length: Samples,
  width: Samples,
  from: Samples,
  to: Samples,
  { kernel, at, found, doubles, floats }: FrameRows,
): Samples {
  const channel = floats(at, length);
  doubles(found, length).fill(0);
  for (let c = 0; c < reader.channels; c++) {
    reader.read(c, first, channel);
    kernel.squaresAdded(at, length, found);
  }
  return kernel.firstRise(found, width, from, to);
}

function plainRise(
  reader: Reader,
  first: Samples,
  length: Samples,
  width: Samples,
  from: Samples,
  to: Samples,
): Samples {
  const power = new Float64Array(length);
  const channel = new Float32Array(length);
  for (let c = 0; c < reader.channels; c++) {
    reader.read(c, first, channel);
    for (let i = 0; i < length; i++) power[i] += channel[i] * channel[i];
  }
  const level = (at: Samples): number => {
    let sum = 0;
    for (let i = at, end = i + width; i < end; i++) sum += power[i];
    return sum;
  };
  let before = 0;
  for (let at = width; at < from; at += width) before = Math.max(before, level(at));
  let most = 0;
  for (let at = from; at < to; at += width) most = Math.max(most, level(at));
  const threshold = Math.max(4 * before, most / 100);
  if (most <= threshold) return -1;
  let at = from;
  while (at < to && level(at) < threshold) at += width;
  // To the sample within the step that passed.
  for (let i = 0; i < width && level(at - 1) >= threshold; i++) at--;
  return at + width - 1;
}
