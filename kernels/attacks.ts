/**
 * Peaks of a flux over a threshold that goes by what lies around them, as the plain form of
 * shared/warp/plan/flux-peaks.ts picks them.
 *
 * @param flux `count` floats, of which `first` to `end` are asked
 * @param near frames on each side that a peak must not be passed by; `around` those that make its threshold
 * @param out receives two doubles for each peak: where it is, and its threshold
 * @returns how many there are
 */
export function fluxPeaks(
  flux: usize, count: i32, first: i32, end: i32, near: i32, around: i32,
  least: f64, floor: f64, over: f64, out: usize,
): i32 {
  let found = 0;
  for (let f = first; f < end; f++) {
    const peak = load<f32>(flux + <usize>f * 4);
    const value = <f64>peak;
    if (value < least) continue;
    let stands = true;
    for (let i = max(0, f - near), last = min(count - 1, f + near); i <= last; i++) {
      const other = load<f32>(flux + <usize>i * 4);
      if (other > peak || (other == peak && i < f)) {
        stands = false;
        break;
      }
    }
    if (!stands) continue;
    const most = value / 4;
    let sum: f64 = 0;
    const low = max(0, f - around);
    const high = min(count - 1, f + around);
    for (let i = low; i <= high; i++) sum += min<f64>(<f64>load<f32>(flux + <usize>i * 4), most);
    const threshold = floor + over * (sum / <f64>(high - low + 1));
    if (value < threshold) continue;
    store<f64>(out, <f64>f);
    store<f64>(out + 8, threshold);
    out += 16;
    found++;
  }
  return found;
}

// @ts-expect-error: decorator
@inline
function level(power: usize, at: i32, width: i32): f64 {
  let sum: f64 = 0;
  for (let p = power + <usize>at * 8, end = p + <usize>width * 8; p < end; p += 8) sum += load<f64>(p);
  return sum;
}

/**
 * Where a sum over `width` powers first passes both four times what it was before `from` and a hundredth of
 * what comes until `to`, as the plain form of shared/warp/plan/first-heard.ts has it; -1 where it doesn't.
 */
export function firstRise(power: usize, width: i32, from: i32, to: i32): i32 {
  let before: f64 = 0;
  for (let at = width; at < from; at += width) before = max(before, level(power, at, width));
  let most: f64 = 0;
  for (let at = from; at < to; at += width) most = max(most, level(power, at, width));
  const threshold = max(4 * before, most / 100);
  if (most <= threshold) return -1;
  let at = from;
  while (at < to && level(power, at, width) < threshold) at += width;
  for (let i = 0; i < width && level(power, at - 1, width) >= threshold; i++) at--;
  return at + width - 1;
}

/**
 * Means over rows of powers of the sums of some columns.
 *
 * @param power `rows` rows of `width` floats
 * @param split first column of each of `bands` bands, and one past the last
 * @param out receives a double for each band
 */
export function meanPowers(power: usize, width: i32, rows: i32, split: usize, bands: i32, out: usize): void {
  for (let b = 0; b < bands; b++) {
    const from = <usize>load<i32>(split) * 4;
    const to = <usize>load<i32>(split + 4) * 4;
    let sum: f64 = 0;
    for (let r = 0, row = power; r < rows; r++, row += <usize>width * 4)
      for (let at = from; at < to; at += 4) sum += <f64>load<f32>(row + at);
    store<f64>(out, rows > 0 ? sum / <f64>rows : 0);
    split += 4;
    out += 8;
  }
}
