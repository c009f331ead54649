// @ts-expect-error: decorator
@inline
function zeroTo(at: usize, end: usize): void {
  for (; at < end; at += 4) store<f32>(at, 0);
}

/**
 * exp(x) of four numbers at or below 88: two to a whole power, times a series for the rest (Cody and
 * Waite's reduction; the series of exp cut after its sixth power).
 */
// @ts-expect-error: decorator
@inline
function exponential(x: v128): v128 {
  const y = f32x4.max(f32x4.splat(-87), f32x4.min(f32x4.splat(88), x));
  const whole = f32x4.nearest(f32x4.mul(y, f32x4.splat(1.44269504)));
  let r = f32x4.sub(y, f32x4.mul(whole, f32x4.splat(0.693359375)));
  r = f32x4.add(r, f32x4.mul(whole, f32x4.splat(2.12194440e-4)));
  let p = f32x4.splat(1.0 / 720.0);
  p = f32x4.add(f32x4.mul(p, r), f32x4.splat(1.0 / 120.0));
  p = f32x4.add(f32x4.mul(p, r), f32x4.splat(1.0 / 24.0));
  p = f32x4.add(f32x4.mul(p, r), f32x4.splat(1.0 / 6.0));
  p = f32x4.add(f32x4.mul(p, r), f32x4.splat(0.5));
  p = f32x4.add(f32x4.mul(p, r), f32x4.splat(1));
  p = f32x4.add(f32x4.mul(p, r), f32x4.splat(1));
  const power = i32x4.shl(i32x4.add(i32x4.trunc_sat_f32x4_s(whole), i32x4.splat(127)), 23);
  return f32x4.mul(p, power);
}

/**
 * Bands of pairs: row `i` compares onset `i` with the `reach` onsets before it, `reach` a whole number
 * of fours; column `c` is the onset `i - reach + c`. Rows stand `stride` floats apart, with at least four
 * floats on either side that stay 0. Measures of onsets are rows of their own, `room` floats apart, with
 * `reach + 4` floats before the first onset.
 *
 * This: what pairs are worth without harmony.
 *
 * @param measures log of the gap before each onset, then what it sounds like, `sounds` rows
 * @param most worth of two that are alike; `rhythm` and `sound` take from it
 */
export function pairsWithoutHarmony(
  measures: usize,
  room: i32,
  sounds: i32,
  n: i32,
  reach: i32,
  most: f32,
  rhythm: f32,
  sound: f32,
  out: usize,
  stride: i32,
): void {
  const row = <usize>room * 4;
  for (let i = 1; i < n; i++) {
    const first = max(0, reach - i) & ~3;
    const own = measures + <usize>(i + reach + 4) * 4;
    const to = out + (<usize>i * <usize>stride) * 4;
    for (let c = first; c < reach; c += 4) {
      const other = measures + <usize>(i + 4 + c) * 4;
      const gap = f32x4.sub(v128.load32_splat(own), v128.load(other));
      const square = f32x4.mul(gap, gap);
      const beyond = f32x4.min(f32x4.splat(1), f32x4.add(square, square));
      let apart = f32x4.splat(0);
      for (let s = 1; s <= sounds; s++) {
        const u = f32x4.sub(v128.load32_splat(own + row * s), v128.load(other + row * s));
        apart = f32x4.add(apart, f32x4.mul(u, u));
      }
      let worth = f32x4.sub(f32x4.splat(most), f32x4.mul(f32x4.splat(rhythm), beyond));
      worth = f32x4.sub(worth, f32x4.mul(f32x4.splat(sound), apart));
      v128.store(to + <usize>c * 4, worth);
    }
  }
}

/**
 * What pairs are worth at one transposition, and with all that leads to them; see `pairsWithoutHarmony`.
 *
 * @param fresh twelve rows: pitch classes that begin
 * @param before rows 0 and -1 hold 0
 * @param turned room for 48 floats
 */
export function pairsLedTo(
  fresh: usize,
  room: i32,
  n: i32,
  reach: i32,
  turn: i32,
  harmony: f32,
  keep: f32,
  skip: f32,
  plain: usize,
  worth: usize,
  before: usize,
  stride: i32,
  turned: usize,
): void {
  const row = <usize>room * 4;
  const line = <usize>stride * 4;
  const none = f32x4.splat(0);
  const lost = f32x4.splat(skip);
  const kept = f32x4.splat(keep);
  for (let i = 1; i < n; i++) {
    const own = fresh + <usize>(i + reach + 4) * 4;
    for (let c = 0; c < 12; c++) {
      const from = c + turn < 12 ? c + turn : c + turn - 12;
      const value = f32x4.splat(harmony * load<f32>(own + row * from));
      v128.store(turned + <usize>c * 16, value);
    }
    const start = max(0, reach - i);
    const first = start & ~3;
    const here = <usize>i * line;
    const last = before + here - line;
    const older = last - line;
    for (let c = first; c < reach; c += 4) {
      const at = <usize>c * 4;
      let other = fresh + <usize>(i + 4 + c) * 4;
      let sum = v128.load(plain + here + at);
      let more = none;
      for (let k: usize = 0; k < 192; k += 32) {
        sum = f32x4.add(sum, f32x4.mul(v128.load(turned + k), v128.load(other)));
        other += row;
        more = f32x4.add(more, f32x4.mul(v128.load(turned + k + 16), v128.load(other)));
        other += row;
      }
      sum = f32x4.add(sum, more);
      v128.store(worth + here + at, sum);
      const beside = f32x4.max(v128.load(older + at + 4), v128.load(last + at - 4));
      const led = f32x4.max(f32x4.max(none, v128.load(last + at)), f32x4.sub(beside, lost));
      v128.store(before + here + at, f32x4.add(sum, f32x4.mul(kept, led)));
    }
    zeroTo(before + here + <usize>first * 4, before + here + <usize>start * 4);
  }
}

/**
 * Adds what follows each pair, and keeps the best of what was there and is found now.
 *
 * @param next two rows of `stride` floats that hold 0, with four more before each
 */
export function pairsFollowed(
  n: i32,
  reach: i32,
  cost: f32,
  keep: f32,
  skip: f32,
  worth: usize,
  before: usize,
  best: usize,
  stride: i32,
  next: usize,
): void {
  const line = <usize>stride * 4;
  const none = f32x4.splat(0);
  const lost = f32x4.splat(skip);
  const kept = f32x4.splat(keep);
  const moved = f32x4.splat(cost);
  let soon = next;
  let later = next + line;
  for (let i = n - 1; i > 0; i--) {
    const here = <usize>i * line;
    const first = max(0, reach - i) & ~3;
    // What came two rows on is not needed once this row has passed over it: it is written over, one column behind.
    let left = v128.load(later + <usize>first * 4 - 4);
    for (let c = first; c < reach; c += 4) {
      const at = <usize>c * 4;
      const beside = f32x4.max(left, v128.load(soon + at + 4));
      const after = f32x4.max(f32x4.max(none, v128.load(soon + at)), f32x4.sub(beside, lost));
      const rest = f32x4.mul(kept, after);
      left = v128.load(later + at + 12);
      v128.store(later + at, f32x4.add(v128.load(worth + here + at), rest));
      const whole = f32x4.sub(f32x4.add(v128.load(before + here + at), rest), moved);
      v128.store(best + here + at, f32x4.max(v128.load(best + here + at), whole));
    }
    const spare = later;
    later = soon;
    soon = spare;
  }
}

/** exp(x / scale) of `count` floats, a whole number of fours. */
export function exponentials(x: usize, count: i32, scale: f32, out: usize): void {
  const factor = f32x4.splat(1 / scale);
  for (let at: usize = 0; at < <usize>count * 4; at += 16)
    v128.store(out + at, exponential(f32x4.mul(v128.load(x + at), factor)));
}

/**
 * How alike onset `i` and the `count` onsets from `from` on are: exp of minus `sharp` times what lies
 * between them. Measures of onsets are rows of their own, `room` floats apart: `shapes` rows of which each
 * has a weight and counts at most that, then `colours` rows whose squares are summed.
 */
export function likenesses(
  measures: usize,
  room: i32,
  shapes: i32,
  weights: usize,
  colours: i32,
  sharp: f32,
  i: i32,
  from: i32,
  count: i32,
  out: usize,
): void {
  const row = <usize>room * 4;
  const own = measures + <usize>i * 4;
  const one = f32x4.splat(1);
  const factor = f32x4.splat(-sharp);
  for (let k = 0; k < count; k += 8) {
    let at = measures + <usize>(from + k) * 4;
    let mine = own;
    let a = f32x4.splat(0);
    let b = a;
    for (let q = 0; q < shapes; q++) {
      const value = v128.load32_splat(mine);
      const weight = v128.load32_splat(weights + <usize>q * 4);
      const u = f32x4.sub(v128.load(at), value);
      const v = f32x4.sub(v128.load(at + 16), value);
      const uu = f32x4.mul(u, u);
      const vv = f32x4.mul(v, v);
      a = f32x4.add(a, f32x4.mul(weight, f32x4.min(one, f32x4.add(uu, uu))));
      b = f32x4.add(b, f32x4.mul(weight, f32x4.min(one, f32x4.add(vv, vv))));
      at += row;
      mine += row;
    }
    for (let q = 0; q < colours; q++) {
      const value = v128.load32_splat(mine);
      const u = f32x4.sub(v128.load(at), value);
      const v = f32x4.sub(v128.load(at + 16), value);
      a = f32x4.add(a, f32x4.mul(u, u));
      b = f32x4.add(b, f32x4.mul(v, v));
      at += row;
      mine += row;
    }
    v128.store(out + <usize>k * 4, exponential(f32x4.mul(factor, a)));
    v128.store(out + <usize>k * 4 + 16, exponential(f32x4.mul(factor, b)));
  }
}
