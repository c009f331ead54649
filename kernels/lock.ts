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

/** As shared/warp/stretch/lock.ts has them. */
const clear: f64 = 0.05;
const level: f64 = 0.1;

/** Whether a bin of `bins` may lead, as `leads` of shared/warp/stretch/lock.ts has it. */
// @ts-expect-error: decorator
@inline
function leads(power: usize, bins: i32, k: i32): bool {
  const at = power + <usize>k * 8;
  const p = load<f64>(at);
  const most = p * (1 + clear);
  if (k > 0 && p <= load<f64>(at - 8)) return false;
  if (k > 1 && most <= load<f64>(at - 16)) return false;
  if (k < bins - 1 && p < load<f64>(at + 8)) return false;
  return !(k < bins - 2 && most < load<f64>(at + 16));
}

/** The first bin from `k` to `end` that may lead and has at least some power; `end` where there is none. */
function nextLead(power: usize, bins: i32, k: i32, end: i32, least: f64): i32 {
  const floor = f64x2.splat(least);
  const over = f64x2.splat(1 + clear);
  while (k < end) {
    if (k < 2 || k + 4 > bins || k + 2 > end) {
      if (load<f64>(power + <usize>k * 8) >= least && leads(power, bins, k)) return k;
      k++;
      continue;
    }
    const at = power + <usize>k * 8;
    const p = v128.load(at);
    const most = f64x2.mul(p, over);
    const found = v128.and(
      v128.and(f64x2.gt(p, v128.load(at - 8)), f64x2.gt(most, v128.load(at - 16))),
      v128.and(f64x2.ge(p, v128.load(at + 8)), v128.and(f64x2.ge(most, v128.load(at + 16)), f64x2.ge(p, floor))),
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
 * The turn at bin `k` that brings `from` nearest to `to`, as `setTurn` of shared/warp/bands/spectrum.ts has it; its real
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

/** Power at bin `k` over all channels. */
function powerAt(spectra: usize, pairs: i32, size: i32, k: i32): f64 {
  const bytes = <usize>size * 8;
  const bin = <usize>k * 8;
  const mirror: usize = k == 0 ? 0 : bytes - bin;
  let sum: f64 = 0;
  let x = spectra;
  for (let p = 0; p < pairs; p++, x += 2 * bytes) {
    const a = load<f64>(x + bin);
    const b = load<f64>(x + bytes + bin);
    const c = load<f64>(x + mirror);
    const d = load<f64>(x + bytes + mirror);
    sum += a * a + b * b + c * c + d * d;
  }
  return sum;
}

/** What the own turn of the peak at bin `k` counts for, as `ownShare` of shared/warp/stretch/lock.ts has it. */
function ownShare(power: usize, bins: i32, k: i32, audible: f64): f64 {
  const p = load<f64>(power + <usize>k * 8);
  let own: f64 = p >= 2 * audible ? 1 : p / audible - 1;
  if (k >= 2 && k + 2 < bins) {
    const at = power + <usize>k * 8;
    const two = f64x2.max(v128.load(at - 16), v128.load(at + 8));
    const most = max(f64x2.extract_lane(two, 0), f64x2.extract_lane(two, 1));
    if (!(most > (1 - clear) * p)) return own;
  }
  for (let side = -1; side < 2; side += 2)
    for (let d = 1; d < 3; d++) {
      const j = k + d * side;
      if (j < 0 || j >= bins) continue;
      const q = load<f64>(power + <usize>j * 8);
      if (!(q > (1 - clear) * p)) continue;
      const third = k + 3 * side;
      const fourth = k + 4 * side;
      let beyond: f64 = third < 0 || third >= bins ? 0 : load<f64>(power + <usize>third * 8);
      if (d == 2 && fourth >= 0 && fourth < bins) beyond = max(beyond, load<f64>(power + <usize>fourth * 8));
      const hidden = max<f64>(0, min<f64>(1, (beyond / q - 1) / clear));
      const under = q / p - 1;
      own = min(own, under > 0 ? (1 - hidden) * max<f64>(0, 1 - under / clear) : max(-under / clear, 1 - hidden));
    }
  return own;
}

/** What `mix` found. */
let mixedRe: f64 = 1;
let mixedIm: f64 = 0;

/** From one turn (share 0) to another, as `mixed` of shared/warp/stretch/lock.ts has it. */
function mix(ar: f64, ai: f64, br: f64, bi: f64, share: f64): void {
  if (share >= 1) {
    mixedRe = br;
    mixedIm = bi;
    return;
  }
  if (share <= 0) {
    mixedRe = ar;
    mixedIm = ai;
    return;
  }
  const re = ar + share * (br - ar);
  const im = ai + share * (bi - ai);
  const first = Math.sqrt(ar * ar + ai * ai);
  const length = first + share * (Math.sqrt(br * br + bi * bi) - first);
  const found = Math.sqrt(re * re + im * im);
  if (found == 0) {
    mixedRe = ar;
    mixedIm = ai;
    return;
  }
  const gain = length / found;
  mixedRe = re * gain;
  mixedIm = im * gain;
}

/** Turns from bin `x` to before `end` become one. */
// @ts-expect-error: decorator
@inline
function fillTurns(turns: usize, sines: usize, x: i32, end: i32, re: f64, im: f64): void {
  const re2 = f64x2.splat(re);
  const im2 = f64x2.splat(im);
  let i = <usize>x * 8;
  const last = <isize>end * 8;
  for (; <isize>i < last - 8; i += 16) {
    v128.store(turns + i, re2);
    v128.store(sines + i, im2);
  }
  if (<isize>i < last) {
    store<f64>(turns + i, re);
    store<f64>(sines + i, im);
  }
}

/**
 * Identity phase locking, as `lockPhases` of shared/warp/stretch/lock.ts has it: over one hop the source goes from `from` to
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
  // The peak before the one that is about to be filled in (none: -1), as it goes on itself and as it was led.
  let olderBin = -1;
  let olderRe: f64 = 1;
  let olderIm: f64 = 0;
  let ledRe: f64 = 1;
  let ledIm: f64 = 0;
  // The peak that is about to be.
  let bin = -1;
  let re: f64 = 1;
  let im: f64 = 0;
  let own: f64 = 1;
  let border = 0;
  let saddle: f64 = 0;
  for (let next = first - 1; next < end; ) {
    let before: f64 = 0;
    do {
      next = nextLead(power, bins, next + 1, end, audible);
      if (next < end) before = powerAt(from, pairs, size, next);
    } while (next < end && before < audible);
    const isEnd = next == end;
    if (isEnd && bin < 0) return;
    let nextBorder = 0;
    let nextSaddle: f64 = 0;
    let nextRe: f64 = 1;
    let nextIm: f64 = 0;
    if (!isEnd) {
      if (bin >= 0) {
        nextBorder = bin + 1;
        nextSaddle = load<f64>(power + <usize>nextBorder * 8);
        for (let i = nextBorder + 1; i <= next; i++) {
          const p = load<f64>(power + <usize>i * 8);
          if (p < nextSaddle) {
            nextSaddle = p;
            nextBorder = i;
          }
        }
      }
      const at = turns + <usize>next * 8;
      const sineAt = sines + <usize>next * 8;
      const wasRe = load<f64>(at);
      const wasIm = load<f64>(sineAt);
      const was = Math.sqrt(wasRe * wasRe + wasIm * wasIm);
      const low = max(quietest, min(loudest, was * least));
      const high = max(quietest, min(loudest, was * most));
      let cos: f64 = 1;
      let sin: f64 = 0;
      if (later) {
        turnBetween(power, now, later, pairs, size, next, 1, 1, at, sineAt);
        cos = load<f64>(at);
        sin = load<f64>(sineAt);
      }
      turnBetween(power, from, written, pairs, size, next, low, high, at, sineAt);
      nextRe = load<f64>(at);
      nextIm = load<f64>(sineAt);
      if (later) {
        const x = nextRe;
        nextRe = x * cos - nextIm * sin;
        nextIm = x * sin + nextIm * cos;
      }
    }
    if (bin >= 0) {
      let toRe = re;
      let toIm = im;
      if (own < 1 && !(olderBin < 0 && isEnd)) {
        if (olderBin < 0) mix(nextRe, nextIm, re, im, own);
        else if (isEnd) mix(olderRe, olderIm, re, im, own);
        else {
          const both = saddle + nextSaddle;
          const lean: f64 = both > 0 ? 0.5 + (10 * (saddle - nextSaddle)) / both : 0.5;
          mix(nextRe, nextIm, olderRe, olderIm, max<f64>(0, min<f64>(1, lean)));
          mix(mixedRe, mixedIm, re, im, own);
        }
        toRe = mixedRe;
        toIm = mixedIm;
      }
      let x = olderBin < 0 ? 0 : bin;
      const asLow = (1 + level) * saddle;
      while (x > border && !(load<f64>(power + <usize>x * 8) < asLow)) x--;
      fillTurns(turns, sines, x, bin + 1, toRe, toIm);
      if (olderBin >= 0) {
        for (let lowest = load<f64>(power + <usize>x * 8); x > border; ) {
          x--;
          mix(ledRe, ledIm, toRe, toIm, (lowest / saddle - 1) / level);
          store<f64>(turns + <usize>x * 8, mixedRe);
          store<f64>(sines + <usize>x * 8, mixedIm);
          lowest = min(lowest, load<f64>(power + <usize>x * 8));
        }
        fillTurns(turns, sines, olderBin + 1, border, ledRe, ledIm);
      }
      ledRe = toRe;
      ledIm = toIm;
    }
    if (isEnd) {
      fillTurns(turns, sines, bin + 1, bins, ledRe, ledIm);
      return;
    }
    olderBin = bin;
    olderRe = re;
    olderIm = im;
    bin = next;
    re = nextRe;
    im = nextIm;
    own = min(ownShare(power, bins, next, audible), before / audible - 1);
    border = nextBorder;
    saddle = nextSaddle;
  }
}
