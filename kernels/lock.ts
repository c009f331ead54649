/** Whether a bin of `bins` is stronger than the two on each side of it. */
// @ts-expect-error: decorator
@inline
function isPeak(power: usize, bins: i32, k: i32): bool {
  const at = power + <usize>k * 8;
  const p = load<f64>(at);
  if (k > 0 && p <= load<f64>(at - 8)) return false;
  if (k > 1 && p <= load<f64>(at - 16)) return false;
  if (k < bins - 1 && p < load<f64>(at + 8)) return false;
  return !(k < bins - 2 && p < load<f64>(at + 16));
}

/** The largest of the powers from `first` to `end`, and 0. */
function strongest(power: usize, first: i32, end: i32): f64 {
  let at = power + <usize>first * 8;
  const last = power + <usize>end * 8;
  let a = f64x2.splat(0);
  let b = a;
  for (; at + 32 <= last; at += 32) {
    a = f64x2.max(a, v128.load(at));
    b = f64x2.max(b, v128.load(at + 16));
  }
  a = f64x2.max(a, b);
  let most = max(f64x2.extract_lane(a, 0), f64x2.extract_lane(a, 1));
  for (; at < last; at += 8) most = max(most, load<f64>(at));
  return most;
}

/** The first peak from `k` to `end` with at least some power; `end` where there is none. */
function nextPeak(power: usize, bins: i32, k: i32, end: i32, least: f64): i32 {
  const floor = f64x2.splat(least);
  while (k < end) {
    if (k < 2 || k + 4 > bins || k + 2 > end) {
      if (load<f64>(power + <usize>k * 8) >= least && isPeak(power, bins, k)) return k;
      k++;
      continue;
    }
    const at = power + <usize>k * 8;
    const p = v128.load(at);
    const found = v128.and(
      v128.and(f64x2.gt(p, v128.load(at - 8)), f64x2.gt(p, v128.load(at - 16))),
      v128.and(f64x2.ge(p, v128.load(at + 8)), v128.and(f64x2.ge(p, v128.load(at + 16)), f64x2.ge(p, floor))),
    );
    const lanes = i64x2.bitmask(found);
    if (lanes != 0) return lanes & 1 ? k : k + 1;
    k += 2;
  }
  return end;
}

/** Bins on each side that may have a say beside a peak, and the share of its power from which one has. */
const beside: i32 = 2;
const nearly: f64 = 0.9;
/** Surely less than that. */
const hardly: f64 = 0.89;

/**
 * Writes the numbers of bins from `first` to `end` that are peaks and stronger than a share of the strongest bin there; how
 * many there are.
 */
export function strongPeaks(power: usize, bins: i32, first: i32, end: i32, share: f64, out: usize): i32 {
  const least = strongest(power, first, end) * share;
  let count = 0;
  for (let k = nextPeak(power, bins, first, end, least); k < end; k = nextPeak(power, bins, k + 1, end, least)) {
    if (load<f64>(power + (<usize>k << 3)) <= least) continue;
    store<i32>(out + (<usize>count << 2), k);
    count++;
  }
  return count;
}

/**
 * The turn at bin `k` that brings `from` nearest to `to`, as `setTurn` of shared/warp/spectrum.ts has it; its real
 * part goes to `outRe`.
 *
 * @param power by which bins beside `k` have a say; 0 where they have none
 */
export function turnBetween(
  power: usize, from: usize, to: usize, pairs: i32, size: i32, k: i32, least: f64, most: f64, outRe: usize, outIm: usize,
): void {
  const bytes = <usize>size * 8;
  const reach = power == 0 ? 0 : beside;
  const own: f64 = power == 0 ? 1 : load<f64>(power + <usize>k * 8);
  let pr: f64 = 0;
  let pi: f64 = 0;
  let energy: f64 = 0;
  for (let j = max(0, k - reach), last = min(size >> 1, k + reach); j <= last; j++) {
    const bin = <usize>j * 8;
    let say: f64 = 1;
    if (j != k) {
      const p = load<f64>(power + bin);
      if (p < hardly * own) continue;
      const over = (p / own - nearly) / (1 - nearly);
      if (!(over > 0)) continue;
      say = over * over;
    }
    const mirror: usize = j == 0 ? 0 : bytes - bin;
    let x = from;
    let y = to;
    for (let p = 0; p < pairs; p++, x += 2 * bytes, y += 2 * bytes) {
      const a = load<f64>(x + bin);
      const b = load<f64>(x + bytes + bin);
      const c = load<f64>(x + mirror);
      const d = load<f64>(x + bytes + mirror);
      const yr = load<f64>(y + bin);
      const yi = load<f64>(y + bytes + bin);
      const zr = load<f64>(y + mirror);
      const zi = load<f64>(y + bytes + mirror);
      pr += say * (yr * a + yi * b + zr * c + zi * d);
      pi += say * (yi * a - yr * b - zi * c + zr * d);
      energy += say * (a * a + b * b + c * c + d * d);
    }
  }
  const length = Math.sqrt(pr * pr + pi * pi);
  const gain = length > 0 ? max(least, min(most, length / energy)) / length : 0;
  store<f64>(outRe, gain > 0 ? pr * gain : 1);
  store<f64>(outIm, pi * gain);
}

/**
 * Identity phase locking, as `lockPhases` of shared/warp/lock.ts has it: over one hop the source goes from `from` to
 * `now`, or where `later` is not 0 from `now` to `later`.
 *
 * @param power of this frame at `size` / 2 + 1 bins
 * @param from `earlier` frames of the source, or the last ones
 * @param first bins from here to before `end` may be peaks, with `faint` of the strongest one's power or more
 * @param quietest bounds of what gain a partial may come to, as `loudest`
 */
export function phasesLocked(
  power: usize, pairs: i32, size: i32, from: usize, now: usize, later: usize, written: usize, turns: usize,
  first: i32, end: i32, faint: f64, least: f64, most: f64, quietest: f64, loudest: f64,
): void {
  const bins = (size >> 1) + 1;
  const audible = strongest(power, first, end) * faint;
  const sines = turns + <usize>bins * 8;
  let start = 0;
  let peak = -1;
  for (let next = first - 1; next < end; ) {
    next = nextPeak(power, bins, next + 1, end, audible);
    const isEnd = next == end;
    if (peak >= 0) {
      let border = bins;
      if (!isEnd) {
        border = peak + 1;
        let lowest = load<f64>(power + <usize>border * 8);
        for (let i = border; i <= next; i++) {
          const p = load<f64>(power + <usize>i * 8);
          if (p < lowest) {
            lowest = p;
            border = i;
          }
        }
      }
      const bin = <usize>peak * 8;
      const wasRe = load<f64>(turns + bin);
      const wasIm = load<f64>(sines + bin);
      const was = Math.sqrt(wasRe * wasRe + wasIm * wasIm);
      const low = max(quietest, min(loudest, was * least));
      const high = max(quietest, min(loudest, was * most));
      let cos: f64 = 1;
      let sin: f64 = 0;
      if (later) {
        turnBetween(power, now, later, pairs, size, peak, 1, 1, turns + bin, sines + bin);
        cos = load<f64>(turns + bin);
        sin = load<f64>(sines + bin);
      }
      turnBetween(power, from, written, pairs, size, peak, low, high, turns + bin, sines + bin);
      let re = load<f64>(turns + bin);
      let im = load<f64>(sines + bin);
      if (later) {
        const x = re;
        re = x * cos - im * sin;
        im = x * sin + im * cos;
      }
      const re2 = f64x2.splat(re);
      const im2 = f64x2.splat(im);
      let i = <usize>start * 8;
      for (const stop = <usize>border * 8 - 8; <isize>i < <isize>stop; i += 16) {
        v128.store(turns + i, re2);
        v128.store(sines + i, im2);
      }
      if (i < <usize>border * 8) {
        store<f64>(turns + i, re);
        store<f64>(sines + i, im);
      }
      start = border;
    }
    peak = next;
  }
}
