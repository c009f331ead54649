// @ts-expect-error: decorator
@external('math', 'cos')
declare function cos(x: f64): f64;

/** Adds doubles to sums. */
export function added(x: usize, count: i32, sums: usize): void {
  let i: usize = 0;
  for (const end = <usize>(count & ~1) * 8; i < end; i += 16)
    v128.store(sums + i, f64x2.add(v128.load(sums + i), v128.load(x + i)));
  if (count & 1) store<f64>(sums + i, load<f64>(sums + i) + load<f64>(x + i));
}

/** Adds floats times doubles to sums. */
export function floatsAdded(x: usize, by: usize, count: i32, sums: usize): void {
  let i: usize = 0;
  for (const end = <usize>(count & ~1) * 8; i < end; i += 16)
    v128.store(
      sums + i,
      f64x2.add(
        v128.load(sums + i),
        f64x2.mul(f64x2.promote_low_f32x4(v128.load64_zero(x + (i >> 1))), v128.load(by + i)),
      ),
    );
  if (count & 1)
    store<f64>(sums + i, load<f64>(sums + i) + <f64>load<f32>(x + (i >> 1)) * load<f64>(by + i));
}

/** 1 over each double, or over `floor` where one is less. */
export function inverted(x: usize, count: i32, floor: f64): void {
  for (const end = x + <usize>count * 8; x < end; x += 8) store<f64>(x, 1 / max(load<f64>(x), floor));
}

/** Whether all of them are `least` or more. */
export function allReach(x: usize, count: i32, least: f64): bool {
  for (const end = x + <usize>count * 8; x < end; x += 8) if (load<f64>(x) < least) return false;
  return true;
}

/** Products of doubles as floats. */
export function floatsOfProducts(x: usize, by: usize, count: i32, out: usize): void {
  let i: usize = 0;
  for (const end = <usize>(count & ~1) * 8; i < end; i += 16)
    v128.store64_lane(
      out + (i >> 1),
      f32x4.demote_f64x2_zero(f64x2.mul(v128.load(x + i), v128.load(by + i))),
      0,
    );
  if (count & 1) store<f32>(out + (i >> 1), <f32>(load<f64>(x + i) * load<f64>(by + i)));
}

/**
 * Fades floats over to products of doubles.
 *
 * @param late how many places the first one lies after the moment when they are there in full, `fade` how many it takes
 */
export function fadedOver(x: usize, by: usize, count: i32, late: f64, fade: f64, out: usize): void {
  for (let i = 0; i < count; i++, x += 8, by += 8, out += 4) {
    const at = (<f64>i + late + fade) / fade;
    if (at <= 0) continue;
    const share = 0.5 - 0.5 * cos(Math.PI * at);
    const was = <f64>load<f32>(out);
    store<f32>(out, <f32>(was + (load<f64>(x) * load<f64>(by) - was) * share));
  }
}

/** Adds a spectrum to a sum, where `side` is 1 with what was real as real and imaginary alike. */
export function sidesAdded(spectrum: usize, size: i32, side: f64, sum: usize): void {
  const bytes = <usize>size * 8;
  const sides = f64x2.splat(side);
  for (let i: usize = 0; i < bytes; i += 16) {
    const re = v128.load(spectrum + i);
    const im = v128.load(spectrum + bytes + i);
    v128.store(sum + i, f64x2.add(v128.load(sum + i), f64x2.sub(re, f64x2.mul(sides, im))));
    v128.store(
      sum + bytes + i,
      f64x2.add(v128.load(sum + bytes + i), f64x2.add(im, f64x2.mul(sides, re))),
    );
  }
}
