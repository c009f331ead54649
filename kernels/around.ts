/**
 * How much of the powers after a moment was not there before it, nor one bin beside, as a share of what was, as the
 * plain form of shared/warp/plan/newness.ts adds it up.
 */
export function newSound(before: usize, after: usize, count: i32): f64 {
  let fresh: f64 = 0;
  let old: f64 = 0;
  let below: f64 = 0;
  let at = load<f64>(before);
  for (let k = 0; k < count; k++) {
    before += 8;
    const above: f64 = k + 1 < count ? load<f64>(before) : 0;
    fresh += max<f64>(0, load<f64>(after) - 2 * max(max(below, at), above));
    old += at;
    below = at;
    at = above;
    after += 8;
  }
  return fresh > 0 ? fresh / max(old, fresh * 1e-6) : 0;
}

/** Powers summed over a few bins each: those up to `reach` away. */
export function neighboursSummed(power: usize, count: i32, reach: i32, sums: usize): void {
  for (let k = 0; k < count; k++) {
    const last = min(count - 1, k + reach);
    let sum: f64 = 0;
    for (let i = max(0, k - reach); i <= last; i++) sum += load<f64>(power + <usize>i * 8);
    store<f64>(sums + <usize>k * 8, sum);
  }
}

/** Cosine between the magnitudes of two power spectra, as the plain form of shared/warp/plan/steadiness.ts has it. */
export function likeness(a: usize, b: usize, count: i32): f64 {
  let ab: f64 = 0;
  let aa: f64 = 1e-30;
  let bb: f64 = 1e-30;
  for (const end = a + <usize>count * 8; a < end; a += 8, b += 8) {
    const p = load<f64>(a);
    const q = load<f64>(b);
    ab += sqrt(p * q);
    aa += p;
    bb += q;
  }
  return ab / sqrt(aa * bb);
}
