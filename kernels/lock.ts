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
 */
export function turnBetween(
  from: usize, to: usize, pairs: i32, size: i32, k: i32, least: f64, most: f64, outRe: usize, outIm: usize,
): void {
  const bytes = <usize>size * 8;
  const bin = <usize>k * 8;
  const mirror: usize = k == 0 ? 0 : bytes - bin;
  let pr: f64 = 0;
  let pi: f64 = 0;
  let energy: f64 = 0;
  for (let p = 0; p < pairs; p++, from += 2 * bytes, to += 2 * bytes) {
    const a = load<f64>(from + bin);
    const b = load<f64>(from + bytes + bin);
    const c = load<f64>(from + mirror);
    const d = load<f64>(from + bytes + mirror);
    const yr = load<f64>(to + bin);
    const yi = load<f64>(to + bytes + bin);
    const zr = load<f64>(to + mirror);
    const zi = load<f64>(to + bytes + mirror);
    pr += yr * a + yi * b + zr * c + zi * d;
    pi += yi * a - yr * b - zi * c + zr * d;
    energy += a * a + b * b + c * c + d * d;
  }
  const length = Math.sqrt(pr * pr + pi * pi);
  const gain = length > 0 ? max(least, min(most, length / energy)) / length : 0;
  store<f64>(outRe, gain > 0 ? pr * gain : 1);
  store<f64>(outIm, pi * gain);
}

/** What bins one and two beside a bin count for, and by what shares of itself it is felt farther away; as shared/warp/lock.ts has them. */
const next: f64 = 0.3;
const second: f64 = 0.08;
const farther: f64 = 0.03;
/** Sums are scaled so that the strongest bin's share of itself is this, and where they come to less nobody leads. */
const scaled: f64 = 1e140;
const nothing: f64 = 1e-150;

/**
 * How `to` follows `from` at each bin from `first` to before `end`: products with the conjugate, real and imaginary parts, and
 * power, all weighed by how far a bin passes `audible`. They go to three arrays, `stride` bytes apart, two zeros before and after them.
 */
function followed(
  power: usize, from: usize, to: usize, pairs: i32, size: i32, first: i32, end: i32, audible: f64, scale: f64,
  room: usize, stride: usize,
): void {
  const bytes = <usize>size * 8;
  const count = <usize>(end - first) * 8;
  for (let n: usize = 0; n < 3; n++) {
    const array = room + n * stride;
    v128.store(array, f64x2.splat(0));
    v128.store(array + 16 + count, f64x2.splat(0));
  }
  let out = room + 16;
  let k = first;
  // The first bin is its own mirror, and the last may be alone.
  for (; k < end && (k == 0 || k + 1 == end); k++, out += 8) followedAt(power, from, to, pairs, bytes, k, audible, scale, out, stride);
  const floor = f64x2.splat(audible);
  const by = f64x2.splat(scale);
  const zero = f64x2.splat(0);
  for (; k + 2 <= end; k += 2, out += 16) {
    const bin = <usize>k * 8;
    const mirror = bytes - bin - 8;
    let pr = zero;
    let pi = zero;
    let energy = zero;
    let x = from;
    let y = to;
    for (let p = 0; p < pairs; p++, x += 2 * bytes, y += 2 * bytes) {
      const a = v128.load(x + bin);
      const b = v128.load(x + bytes + bin);
      const cm = v128.load(x + mirror);
      const dm = v128.load(x + bytes + mirror);
      const c = v128.shuffle<f64>(cm, cm, 1, 0);
      const d = v128.shuffle<f64>(dm, dm, 1, 0);
      const yr = v128.load(y + bin);
      const yi = v128.load(y + bytes + bin);
      const zrm = v128.load(y + mirror);
      const zim = v128.load(y + bytes + mirror);
      const zr = v128.shuffle<f64>(zrm, zrm, 1, 0);
      const zi = v128.shuffle<f64>(zim, zim, 1, 0);
      pr = f64x2.add(pr, f64x2.add(f64x2.add(f64x2.add(f64x2.mul(yr, a), f64x2.mul(yi, b)), f64x2.mul(zr, c)), f64x2.mul(zi, d)));
      pi = f64x2.add(pi, f64x2.add(f64x2.sub(f64x2.sub(f64x2.mul(yi, a), f64x2.mul(yr, b)), f64x2.mul(zi, c)), f64x2.mul(zr, d)));
      energy = f64x2.add(energy, f64x2.add(f64x2.add(f64x2.add(f64x2.mul(a, a), f64x2.mul(b, b)), f64x2.mul(c, c)), f64x2.mul(d, d)));
    }
    const weight = f64x2.max(zero, f64x2.mul(f64x2.sub(v128.load(power + bin), floor), by));
    v128.store(out, f64x2.mul(pr, weight));
    v128.store(out + stride, f64x2.mul(pi, weight));
    v128.store(out + 2 * stride, f64x2.mul(energy, weight));
  }
  if (k < end) followedAt(power, from, to, pairs, bytes, k, audible, scale, out, stride);
}

function followedAt(
  power: usize, from: usize, to: usize, pairs: i32, bytes: usize, k: i32, audible: f64, scale: f64, out: usize, stride: usize,
): void {
  const bin = <usize>k * 8;
  const mirror: usize = k == 0 ? 0 : bytes - bin;
  let pr: f64 = 0;
  let pi: f64 = 0;
  let energy: f64 = 0;
  for (let p = 0; p < pairs; p++, from += 2 * bytes, to += 2 * bytes) {
    const a = load<f64>(from + bin);
    const b = load<f64>(from + bytes + bin);
    const c = load<f64>(from + mirror);
    const d = load<f64>(from + bytes + mirror);
    const yr = load<f64>(to + bin);
    const yi = load<f64>(to + bytes + bin);
    const zr = load<f64>(to + mirror);
    const zi = load<f64>(to + bytes + mirror);
    pr += yr * a + yi * b + zr * c + zi * d;
    pi += yi * a - yr * b - zi * c + zr * d;
    energy += a * a + b * b + c * c + d * d;
  }
  const weight = max<f64>(0, (load<f64>(power + bin) - audible) * scale);
  store<f64>(out, pr * weight);
  store<f64>(out + stride, pi * weight);
  store<f64>(out + 2 * stride, energy * weight);
}

/**
 * Spreads three arrays of `count` numbers, as `followed` leaves them: what comes from before each goes to three arrays where they
 * stood (their first number at the start), it with what comes from behind to three more.
 */
function spread(room: usize, stride: usize, count: i32): void {
  const bytes = <usize>count * 8;
  const behind = room + 3 * stride;
  const near = room + 6 * stride;
  const one = f64x2.splat(next);
  const two = f64x2.splat(second);
  for (let n: usize = 0; n < 3; n++) {
    const array = room + n * stride;
    const out = near + n * stride;
    // One number more than there are may be written: there is room for it.
    for (let i: usize = 0; i < bytes; i += 16) {
      const at = array + i;
      const beside = f64x2.mul(one, f64x2.add(v128.load(at + 8), v128.load(at + 24)));
      const beyond = f64x2.mul(two, f64x2.add(v128.load(at), v128.load(at + 32)));
      v128.store(out + i, f64x2.add(f64x2.add(v128.load(at + 16), beside), beyond));
    }
  }
  let xr: f64 = 0;
  let xi: f64 = 0;
  let xe: f64 = 0;
  let zr: f64 = 0;
  let zi: f64 = 0;
  let ze: f64 = 0;
  const s2 = <usize>2 * stride;
  for (let i: usize = 0, j = bytes - 8; i < bytes; i += 8, j -= 8) {
    const up = near + i;
    const first = room + i;
    store<f64>(first, xr);
    store<f64>(first + stride, xi);
    store<f64>(first + s2, xe);
    xr = farther * (xr + load<f64>(up));
    xi = farther * (xi + load<f64>(up + stride));
    xe = farther * (xe + load<f64>(up + s2));
    const down = near + j;
    const last = behind + j;
    const yr = zr + load<f64>(down);
    const yi = zi + load<f64>(down + stride);
    const ye = ze + load<f64>(down + s2);
    store<f64>(last, yr);
    store<f64>(last + stride, yi);
    store<f64>(last + s2, ye);
    zr = farther * yr;
    zi = farther * yi;
    ze = farther * ye;
  }
}

/** Turns of length 1 at `count` bins that `followed` and `spread` have prepared; 1 where nobody leads. */
function turnsFound(room: usize, stride: usize, count: i32, re: usize, im: usize): void {
  const zero = f64x2.splat(0);
  const one = f64x2.splat(1);
  const least = f64x2.splat(nothing);
  for (let i: usize = 0, end = <usize>count * 8; i < end; i += 16) {
    const at = room + i;
    const pr = f64x2.add(v128.load(at), v128.load(at + 3 * stride));
    const pi = f64x2.add(v128.load(at + stride), v128.load(at + 4 * stride));
    const length = f64x2.sqrt(f64x2.add(f64x2.mul(pr, pr), f64x2.mul(pi, pi)));
    const leads = f64x2.gt(length, least);
    v128.store(re + i, v128.bitselect(f64x2.div(pr, length), one, leads));
    v128.store(im + i, v128.bitselect(f64x2.div(pi, length), zero, leads));
  }
}

/**
 * Phases locked, as `lockPhases` of shared/warp/lock.ts has it: over one hop the source goes from `from` to
 * `now`, or where `later` is not 0 from `now` to `later`.
 *
 * @param power of this frame at `size` / 2 + 1 bins
 * @param from `earlier` frames of the source, or the last ones
 * @param first bins from here to before `end` lead, with `faint` of the strongest one's power or more
 * @param quietest bounds of what gain a partial may come to, as `loudest`
 * @param room of eleven arrays of six numbers more than there are bins
 */
export function phasesLocked(
  power: usize, pairs: i32, size: i32, from: usize, now: usize, later: usize, written: usize, turns: usize,
  first: i32, end: i32, faint: f64, least: f64, most: f64, quietest: f64, loudest: f64, room: usize,
): void {
  const bins = (size >> 1) + 1;
  const count = end - first;
  const top = strongest(power, first, end);
  if (!(top > 0)) return;
  const audible = top * faint;
  const scale = scaled / top;
  const stride = <usize>(bins + 6) * 8;
  const onRe = room + 9 * stride;
  const onIm = onRe + stride;
  if (later) {
    followed(power, now, later, pairs, size, first, end, audible, scale, room, stride);
    spread(room, stride, count);
    turnsFound(room, stride, count, onRe, onIm);
  }
  followed(power, from, written, pairs, size, first, end, audible, scale, room, stride);
  spread(room, stride, count);
  const sines = <usize>bins * 8;
  const begin = turns + <usize>first * 8;
  const bytes = <usize>count * 8;
  const nobody = f64x2.splat(nothing);
  const leasts = f64x2.splat(least);
  const mosts = f64x2.splat(most);
  const quiet = f64x2.splat(quietest);
  const loud = f64x2.splat(loudest);
  let led = 3;
  // The last bin may be alone: it is done together with the one before it, in registers.
  for (let i: usize = 0; i < bytes; i += 16) {
    const alone = i + 8 == bytes;
    const at = room + i;
    const to = begin + i;
    const pr = f64x2.add(v128.load(at), v128.load(at + 3 * stride));
    const pi = f64x2.add(v128.load(at + stride), v128.load(at + 4 * stride));
    const energy = f64x2.add(v128.load(at + 2 * stride), v128.load(at + 5 * stride));
    const wasRe = alone ? f64x2.splat(load<f64>(to)) : v128.load(to);
    const wasIm = alone ? f64x2.splat(load<f64>(to + sines)) : v128.load(to + sines);
    const was = f64x2.sqrt(f64x2.add(f64x2.mul(wasRe, wasRe), f64x2.mul(wasIm, wasIm)));
    const low = f64x2.max(quiet, f64x2.min(loud, f64x2.mul(was, leasts)));
    const high = f64x2.max(quiet, f64x2.min(loud, f64x2.mul(was, mosts)));
    const length = f64x2.sqrt(f64x2.add(f64x2.mul(pr, pr), f64x2.mul(pi, pi)));
    const leads = f64x2.gt(length, nobody);
    const gain = f64x2.div(f64x2.max(low, f64x2.min(high, f64x2.div(length, energy))), length);
    let re = f64x2.mul(pr, gain);
    let im = f64x2.mul(pi, gain);
    if (later) {
      const cos = v128.load(onRe + i);
      const sin = v128.load(onIm + i);
      const x = re;
      re = f64x2.sub(f64x2.mul(x, cos), f64x2.mul(im, sin));
      im = f64x2.add(f64x2.mul(x, sin), f64x2.mul(im, cos));
    }
    re = v128.bitselect(re, wasRe, leads);
    im = v128.bitselect(im, wasIm, leads);
    const mask = i64x2.bitmask(leads);
    if (alone) {
      led &= mask | 2;
      store<f64>(to, f64x2.extract_lane(re, 0));
      store<f64>(to + sines, f64x2.extract_lane(im, 0));
    } else {
      led &= mask;
      v128.store(to, re);
      v128.store(to + sines, im);
    }
  }
  if (led != 3) ledByOthers(room, stride, bytes, begin, sines);
  const re = load<f64>(begin);
  const im = load<f64>(begin + sines);
  for (let at = turns; at < begin; at += 8) {
    store<f64>(at, re);
    store<f64>(at + sines, im);
  }
  const endRe = load<f64>(begin + bytes - 8);
  const endIm = load<f64>(begin + bytes - 8 + sines);
  for (let at = begin + bytes; at < turns + sines; at += 8) {
    store<f64>(at, endRe);
    store<f64>(at + sines, endIm);
  }
}

/** Bins that nobody leads go with the last one before them that someone does, or else the first one after them. */
function ledByOthers(room: usize, stride: usize, bytes: usize, turns: usize, sines: usize): void {
  let leader: usize = usize.MAX_VALUE;
  for (let i: usize = 0; i < bytes; i += 8) {
    const pr = load<f64>(room + i) + load<f64>(room + i + 3 * stride);
    const pi = load<f64>(room + i + stride) + load<f64>(room + i + 4 * stride);
    if (Math.sqrt(pr * pr + pi * pi) > nothing) {
      const isFirst = leader == usize.MAX_VALUE;
      leader = i;
      if (isFirst) for (let j: usize = 0; j < i; j += 8) turnCopied(turns, sines, i, j);
    } else if (leader != usize.MAX_VALUE) turnCopied(turns, sines, leader, i);
  }
}

function turnCopied(turns: usize, sines: usize, from: usize, to: usize): void {
  store<f64>(turns + to, load<f64>(turns + from));
  store<f64>(turns + sines + to, load<f64>(turns + sines + from));
}
