/**
 * Fourier transform of one complex signal in double precision, two points at a time: the passes of
 * shared/math/complex-fft.ts with the same sums in the same order, so that both give the same bits.
 */

// @ts-expect-error: decorator
@external('math', 'cos')
declare function cos(x: f64): f64;
// @ts-expect-error: decorator
@external('math', 'sin')
declare function sin(x: f64): f64;

/**
 * Writes what the passes of a transform turn by, one pass after the other as they ask for it.
 *
 * @param out room for 2 * `size` doubles
 */
export function passTurns(size: i32, out: usize): void {
  const first = out;
  const quarter = size >> 2;
  for (let a = 0; a < quarter; a += 2)
    for (let j = 1; j <= 3; j++, out += 32) {
      const x = (2 * Math.PI * <f64>(j * a)) / <f64>size;
      const y = (2 * Math.PI * <f64>(j * (a + 1))) / <f64>size;
      store<f64>(out, cos(x));
      store<f64>(out + 8, cos(y));
      store<f64>(out + 16, sin(x));
      store<f64>(out + 24, sin(y));
    }
  for (let n = quarter, stride = 4; n > 4; n >>= 2, stride <<= 2)
    for (let p = 0; p < n >> 2; p++)
      for (let j = 0; j < 3; j++, out += 16) {
        // The first pass turns by the same.
        const same = first + <usize>(p * stride >> 1) * 96 + <usize>j * 32;
        store<f64>(out, load<f64>(same));
        store<f64>(out + 8, load<f64>(same + 16));
      }
}

// @ts-expect-error: decorator
@inline
function turnedRe(u: v128, v: v128, c: v128, s: v128): v128 {
  return f64x2.add(f64x2.mul(u, c), f64x2.mul(v, s));
}

// @ts-expect-error: decorator
@inline
function turnedIm(u: v128, v: v128, c: v128, s: v128): v128 {
  return f64x2.sub(f64x2.mul(v, c), f64x2.mul(u, s));
}

/** Four results of two butterflies each: those of the first go first. */
// @ts-expect-error: decorator
@inline
function interleaved(to: usize, a: v128, b: v128, c: v128, d: v128): void {
  v128.store(to, v128.shuffle<f64>(a, b, 0, 2));
  v128.store(to + 16, v128.shuffle<f64>(c, d, 0, 2));
  v128.store(to + 32, v128.shuffle<f64>(a, b, 1, 3));
  v128.store(to + 48, v128.shuffle<f64>(c, d, 1, 3));
}

/** Two butterflies of the pass of stride 1. `turns`: c1, s1, c2, s2, c3, s3, a pair of each. */
// @ts-expect-error: decorator
@inline
function firstButterflies(
  ar: v128, ai: v128, br: v128, bi: v128, cr: v128, ci: v128, dr: v128, di: v128, turns: usize, yr: usize, yi: usize,
): void {
  const pr = f64x2.add(ar, cr);
  const pi = f64x2.add(ai, ci);
  const mr = f64x2.sub(ar, cr);
  const mi = f64x2.sub(ai, ci);
  const qr = f64x2.add(br, dr);
  const qi = f64x2.add(bi, di);
  const jr = f64x2.sub(di, bi);
  const ji = f64x2.sub(br, dr);
  const u1 = f64x2.sub(mr, jr);
  const v1 = f64x2.sub(mi, ji);
  const u2 = f64x2.sub(pr, qr);
  const v2 = f64x2.sub(pi, qi);
  const u3 = f64x2.add(mr, jr);
  const v3 = f64x2.add(mi, ji);
  const c1 = v128.load(turns);
  const s1 = v128.load(turns, 16);
  const c2 = v128.load(turns, 32);
  const s2 = v128.load(turns, 48);
  const c3 = v128.load(turns, 64);
  const s3 = v128.load(turns, 80);
  interleaved(yr, f64x2.add(pr, qr), turnedRe(u1, v1, c1, s1), turnedRe(u2, v2, c2, s2), turnedRe(u3, v3, c3, s3));
  interleaved(yi, f64x2.add(pi, qi), turnedIm(u1, v1, c1, s1), turnedIm(u2, v2, c2, s2), turnedIm(u3, v3, c3, s3));
}

/** The pass of stride 1. */
function firstPass(size: i32, turns: usize, xr: usize, xi: usize, yr: usize, yi: usize): void {
  const quarter = <usize>(size >> 2) * 8;
  for (const end = xr + quarter; xr < end; xr += 16, xi += 16, yr += 64, yi += 64, turns += 96)
    firstButterflies(
      v128.load(xr),
      v128.load(xi),
      v128.load(xr + quarter),
      v128.load(xi + quarter),
      v128.load(xr + 2 * quarter),
      v128.load(xi + 2 * quarter),
      v128.load(xr + 3 * quarter),
      v128.load(xi + 3 * quarter),
      turns,
      yr,
      yi,
    );
}

/** Two floats times a window. */
// @ts-expect-error: decorator
@inline
function weighed(x: usize, w: v128): v128 {
  return f64x2.mul(f64x2.promote_low_f32x4(v128.load64_zero(x)), w);
}

/** The pass of stride 1 of floats under a window. */
function firstPassWindowed(size: i32, turns: usize, x: usize, y: usize, window: usize, yr: usize, yi: usize): void {
  const quarter = <usize>(size >> 2) * 4;
  for (const end = x + quarter; x < end; x += 8, y += 8, window += 16, yr += 64, yi += 64, turns += 96) {
    const a = v128.load(window);
    const b = v128.load(window + 2 * quarter);
    const c = v128.load(window + 4 * quarter);
    const d = v128.load(window + 6 * quarter);
    firstButterflies(
      weighed(x, a),
      weighed(y, a),
      weighed(x + quarter, b),
      weighed(y + quarter, b),
      weighed(x + 2 * quarter, c),
      weighed(y + 2 * quarter, c),
      weighed(x + 3 * quarter, d),
      weighed(y + 3 * quarter, d),
      turns,
      yr,
      yi,
    );
  }
}

/** A pass of greater stride. `turns`: c1, s1, c2, s2, c3, s3 for each sub-transform. */
function pass(n: i32, stride: i32, turns: usize, xr: usize, xi: usize, yr: usize, yi: usize): void {
  const quarter = n >> 2;
  const step = <usize>stride * 8;
  const hop = <usize>quarter * step;
  for (let p = 0; p < quarter; p++) {
    const c1 = v128.load64_splat(turns);
    const s1 = v128.load64_splat(turns + 8);
    const c2 = v128.load64_splat(turns + 16);
    const s2 = v128.load64_splat(turns + 24);
    const c3 = v128.load64_splat(turns + 32);
    const s3 = v128.load64_splat(turns + 40);
    turns += 48;
    const end = xr + step;
    while (xr < end) {
      const ar = v128.load(xr);
      const ai = v128.load(xi);
      const br = v128.load(xr + hop);
      const bi = v128.load(xi + hop);
      const cr = v128.load(xr + 2 * hop);
      const ci = v128.load(xi + 2 * hop);
      const dr = v128.load(xr + 3 * hop);
      const di = v128.load(xi + 3 * hop);
      xr += 16;
      xi += 16;
      const pr = f64x2.add(ar, cr);
      const pi = f64x2.add(ai, ci);
      const mr = f64x2.sub(ar, cr);
      const mi = f64x2.sub(ai, ci);
      const qr = f64x2.add(br, dr);
      const qi = f64x2.add(bi, di);
      const jr = f64x2.sub(di, bi);
      const ji = f64x2.sub(br, dr);
      v128.store(yr, f64x2.add(pr, qr));
      v128.store(yi, f64x2.add(pi, qi));
      const u1 = f64x2.sub(mr, jr);
      const v1 = f64x2.sub(mi, ji);
      v128.store(yr + step, turnedRe(u1, v1, c1, s1));
      v128.store(yi + step, turnedIm(u1, v1, c1, s1));
      const u2 = f64x2.sub(pr, qr);
      const v2 = f64x2.sub(pi, qi);
      v128.store(yr + 2 * step, turnedRe(u2, v2, c2, s2));
      v128.store(yi + 2 * step, turnedIm(u2, v2, c2, s2));
      const u3 = f64x2.add(mr, jr);
      const v3 = f64x2.add(mi, ji);
      v128.store(yr + 3 * step, turnedRe(u3, v3, c3, s3));
      v128.store(yi + 3 * step, turnedIm(u3, v3, c3, s3));
      yr += 16;
      yi += 16;
    }
    yr += 3 * step;
    yi += 3 * step;
  }
}

function lastFour(stride: i32, xr: usize, xi: usize, yr: usize, yi: usize): void {
  const step = <usize>stride * 8;
  const end = xr + step;
  while (xr < end) {
    const ar = v128.load(xr);
    const ai = v128.load(xi);
    const br = v128.load(xr + step);
    const bi = v128.load(xi + step);
    const cr = v128.load(xr + 2 * step);
    const ci = v128.load(xi + 2 * step);
    const dr = v128.load(xr + 3 * step);
    const di = v128.load(xi + 3 * step);
    xr += 16;
    xi += 16;
    const pr = f64x2.add(ar, cr);
    const pi = f64x2.add(ai, ci);
    const mr = f64x2.sub(ar, cr);
    const mi = f64x2.sub(ai, ci);
    const qr = f64x2.add(br, dr);
    const qi = f64x2.add(bi, di);
    const jr = f64x2.sub(di, bi);
    const ji = f64x2.sub(br, dr);
    v128.store(yr, f64x2.add(pr, qr));
    v128.store(yi, f64x2.add(pi, qi));
    v128.store(yr + step, f64x2.sub(mr, jr));
    v128.store(yi + step, f64x2.sub(mi, ji));
    v128.store(yr + 2 * step, f64x2.sub(pr, qr));
    v128.store(yi + 2 * step, f64x2.sub(pi, qi));
    v128.store(yr + 3 * step, f64x2.add(mr, jr));
    v128.store(yi + 3 * step, f64x2.add(mi, ji));
    yr += 16;
    yi += 16;
  }
}

function lastTwo(stride: i32, xr: usize, xi: usize, yr: usize, yi: usize): void {
  const step = <usize>stride * 8;
  const end = xr + step;
  while (xr < end) {
    const ar = v128.load(xr);
    const ai = v128.load(xi);
    const br = v128.load(xr + step);
    const bi = v128.load(xi + step);
    xr += 16;
    xi += 16;
    v128.store(yr, f64x2.add(ar, br));
    v128.store(yi, f64x2.add(ai, bi));
    v128.store(yr + step, f64x2.sub(ar, br));
    v128.store(yi + step, f64x2.sub(ai, bi));
    yr += 16;
    yi += 16;
  }
}

/** The passes after the first, from `workRe`, `workIm` to `re`, `im`; `turns` from the second on. */
function laterPasses(
  workRe: usize, workIm: usize, re: usize, im: usize, turns: usize, size: i32,
): void {
  let xr = workRe;
  let xi = workIm;
  let yr = re;
  let yi = im;
  let stride = 4;
  for (let n = size >> 2; n > 4; n >>= 2) {
    pass(n, stride, turns, xr, xi, yr, yi);
    turns += <usize>(n >> 2) * 48;
    stride <<= 2;
    const r = xr;
    const i = xi;
    xr = yr;
    xi = yi;
    yr = r;
    yi = i;
  }
  // The last pass reads and writes the same places, so it may end where it begins.
  if (stride * 4 == size) lastFour(stride, xr, xi, re, im);
  else lastTwo(stride, xr, xi, re, im);
}

/**
 * Transforms `size` doubles at `re` and `im` in place, kernel exp(-2 pi i n k / size), nothing scaled.
 *
 * @param size a power of two, 16 or more
 * @param turns what the passes turn by, one pass after the other, as they say
 * @param workRe room for `size` doubles, as `workIm`
 */
export function transform(re: usize, im: usize, workRe: usize, workIm: usize, turns: usize, size: i32): void {
  firstPass(size, turns, re, im, workRe, workIm);
  laterPasses(workRe, workIm, re, im, turns + <usize>(size >> 2) * 48, size);
}

/**
 * Transforms `size` floats at `x` and `y` (real and imaginary part) under a window.
 *
 * @param window `size` doubles
 * @param re receives `size` doubles, as `im`; workRe, workIm and turns as `transform` has them
 */
export function windowed(
  x: usize, y: usize, window: usize, size: i32,
  re: usize, im: usize, workRe: usize, workIm: usize, turns: usize,
): void {
  firstPassWindowed(size, turns, x, y, window, workRe, workIm);
  laterPasses(workRe, workIm, re, im, turns + <usize>(size >> 2) * 48, size);
}

/**
 * Transforms `size` doubles at `xr` and `xi` back (not scaled) and adds those from `low` to `high`, windowed, to sums that
 * begin with the one for `low`.
 *
 * @param re room for `size` doubles, as `im`, `workRe` and `workIm`
 * @param window `size` doubles
 */
export function overlapped(
  xr: usize, xi: usize, re: usize, im: usize, workRe: usize, workIm: usize, turns: usize, size: i32,
  window: usize, low: i32, high: i32, sumRe: usize, sumIm: usize,
): void {
  firstPass(size, turns, xi, xr, workIm, workRe);
  laterPasses(workIm, workRe, im, re, turns + <usize>(size >> 2) * 48, size);
  const first = <usize>low * 8;
  productsAdded(re + first, window + first, high - low, sumRe);
  productsAdded(im + first, window + first, high - low, sumIm);
}

/** Products of `count` doubles each; `out` may be where `x` is. */
export function products(x: usize, by: usize, count: i32, out: usize): void {
  let i: usize = 0;
  for (const end = <usize>(count & ~1) * 8; i < end; i += 16)
    v128.store(out + i, f64x2.mul(v128.load(x + i), v128.load(by + i)));
  if (count & 1) store<f64>(out + i, load<f64>(x + i) * load<f64>(by + i));
}

/** Adds products of `count` doubles each to sums. */
export function productsAdded(x: usize, by: usize, count: i32, sums: usize): void {
  let i: usize = 0;
  for (const end = <usize>(count & ~1) * 8; i < end; i += 16)
    v128.store(sums + i, f64x2.add(v128.load(sums + i), f64x2.mul(v128.load(x + i), v128.load(by + i))));
  if (count & 1) store<f64>(sums + i, load<f64>(sums + i) + load<f64>(x + i) * load<f64>(by + i));
}

/**
 * Powers of windowed frames of two channels at once: for each frame the sums between neighbouring edges,
 * both channels together, in the order in which shared/math/frame-powers.ts adds them.
 *
 * @param left `frames` overlapping frames of `size` floats, `hop` apart; as `right`
 * @param re room for `size` doubles, as `im`, `workRe` and `workIm`
 * @param edges `bands` + 1 bin numbers from 1 on
 * @param sums `frames` rows of `bands` floats, to which they are added
 */
export function framePowers(
  left: usize, right: usize, frames: i32, hop: i32, window: usize, size: i32,
  re: usize, im: usize, workRe: usize, workIm: usize, turns: usize,
  edges: usize, bands: i32, sums: usize,
): void {
  const bytes = <usize>size * 8;
  for (let f = 0; f < frames; f++) {
    windowed(left, right, window, size, re, im, workRe, workIm, turns);
    left += <usize>hop * 4;
    right += <usize>hop * 4;
    let k = <usize>load<i32>(edges) * 8;
    for (let b = 0; b < bands; b++) {
      const edge = <usize>load<i32>(edges + <usize>(b + 1) * 4) * 8;
      let sum: f64 = 0;
      for (; k < edge; k += 8) {
        const m = bytes - k;
        const a = load<f64>(re + k);
        const c = load<f64>(im + k);
        const d = load<f64>(re + m);
        const e = load<f64>(im + m);
        sum += a * a + c * c + d * d + e * e;
      }
      store<f32>(sums, <f32>(<f64>load<f32>(sums) + sum));
      sums += 4;
    }
  }
}
