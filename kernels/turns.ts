/**
 * What shared/warp/bands/spectrum.ts does to spectra of pairs of channels, bin by bin with the same sums. A spectrum is
 * `size` real parts and as many imaginary ones behind them, pair after pair; turns are the same of size / 2 + 1.
 */

// @ts-expect-error: decorator
@external('math', 'cos')
declare function cos(x: f64): f64;
// @ts-expect-error: decorator
@external('math', 'sin')
declare function sin(x: f64): f64;

/** Turns that move a frame of `size` samples by a fraction of one. */
export function rampTurns(turns: usize, size: i32, fraction: f64): void {
  const half = size >> 1;
  const sines = turns + <usize>(half + 1) * 8;
  for (let k = 0; k <= half; k++) {
    const angle = (2 * Math.PI * <f64>k * fraction) / <f64>size;
    store<f64>(turns + (<usize>k << 3), cos(angle));
    store<f64>(sines + (<usize>k << 3), sin(angle));
  }
}

/** Two doubles the other way round. */
// @ts-expect-error: decorator
@inline
function mirrored(at: usize): v128 {
  const v = v128.load(at);
  return v128.shuffle<f64>(v, v, 1, 0);
}

// @ts-expect-error: decorator
@inline
function storeMirrored(at: usize, v: v128): void {
  v128.store(at, v128.shuffle<f64>(v, v, 1, 0));
}

/** Multiplies by one complex number for each bin, mirrored bins by its conjugate; `to` may be `spectrum`. */
export function turned(spectrum: usize, size: i32, turns: usize, to: usize): void {
  const bytes = <usize>size * 8;
  const half = bytes >> 1;
  const sines = turns + half + 8;
  store<f64>(to, load<f64>(spectrum) * load<f64>(turns));
  store<f64>(to + bytes, load<f64>(spectrum + bytes) * load<f64>(turns));
  store<f64>(to + half, load<f64>(spectrum + half) * load<f64>(turns + half));
  store<f64>(to + bytes + half, load<f64>(spectrum + bytes + half) * load<f64>(turns + half));
  let k: usize = 8;
  for (; k + 8 < half; k += 16) {
    const m = bytes - k - 8;
    const c = v128.load(turns + k);
    const s = v128.load(sines + k);
    const a = v128.load(spectrum + k);
    const b = v128.load(spectrum + bytes + k);
    const e = mirrored(spectrum + m);
    const f = mirrored(spectrum + bytes + m);
    v128.store(to + k, f64x2.sub(f64x2.mul(a, c), f64x2.mul(b, s)));
    v128.store(to + bytes + k, f64x2.add(f64x2.mul(a, s), f64x2.mul(b, c)));
    storeMirrored(to + m, f64x2.add(f64x2.mul(e, c), f64x2.mul(f, s)));
    storeMirrored(to + bytes + m, f64x2.sub(f64x2.mul(f, c), f64x2.mul(e, s)));
  }
  for (; k < half; k += 8) {
    const m = bytes - k;
    const c = load<f64>(turns + k);
    const s = load<f64>(sines + k);
    const a = load<f64>(spectrum + k);
    const b = load<f64>(spectrum + bytes + k);
    const e = load<f64>(spectrum + m);
    const f = load<f64>(spectrum + bytes + m);
    store<f64>(to + k, a * c - b * s);
    store<f64>(to + bytes + k, a * s + b * c);
    store<f64>(to + m, e * c + f * s);
    store<f64>(to + bytes + m, f * c - e * s);
  }
}

// @ts-expect-error: decorator
@inline
function squared(at: usize): f64 {
  const x = load<f64>(at);
  return x * x;
}

/** Power at each bin from 0 to half the size, all pairs and channels together. */
export function pairPowers(spectra: usize, pairs: i32, size: i32, power: usize): void {
  const bytes = <usize>size * 8;
  const half = bytes >> 1;
  const end = spectra + <usize>pairs * 2 * bytes;
  for (let k: usize = 0; k <= half; k += half) {
    let sum: f64 = 0;
    for (let p = spectra; p < end; p += 2 * bytes) sum += squared(p + k) + squared(p + bytes + k);
    store<f64>(power + k, sum);
  }
  let k: usize = 8;
  for (; k + 8 < half; k += 16) {
    let sum = f64x2.splat(0);
    for (let p = spectra; p < end; p += 2 * bytes) {
      const m = p + bytes - k - 8;
      const a = v128.load(p + k);
      const b = v128.load(p + bytes + k);
      const c = mirrored(m);
      const d = mirrored(m + bytes);
      sum = f64x2.add(
        sum,
        f64x2.add(f64x2.add(f64x2.add(f64x2.mul(a, a), f64x2.mul(b, b)), f64x2.mul(c, c)), f64x2.mul(d, d)),
      );
    }
    v128.store(power + k, sum);
  }
  for (; k < half; k += 8) {
    let sum: f64 = 0;
    for (let p = spectra; p < end; p += 2 * bytes)
      sum += squared(p + k) + squared(p + bytes + k) + squared(p + bytes - k) + squared(p + 2 * bytes - k);
    store<f64>(power + k, sum);
  }
}
