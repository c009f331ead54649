/** Floats from and to doubles, where splitting into bands and putting bands together needs them. */

/** `count` floats as doubles. `to` may reach from before the floats up to where they end. */
export function promoted(floats: usize, count: i32, to: usize): void {
  let i: usize = 0;
  for (const pairs = <usize>(count & ~1) * 4; i < pairs; i += 8)
    v128.store(to + i * 2, f64x2.promote_low_f32x4(v128.load64_zero(floats + i)));
  if (count & 1) store<f64>(to + i * 2, <f64>load<f32>(floats + i));
}

/** `count` doubles as floats. `to` may be where the doubles are, or before. */
export function demoted(doubles: usize, count: i32, to: usize): void {
  let i: usize = 0;
  for (const pairs = <usize>(count & ~1) * 4; i < pairs; i += 8)
    v128.store64_lane(to + i, f32x4.demote_f64x2_zero(v128.load(doubles + i * 2)), 0);
  if (count & 1) store<f32>(to + i, <f32>load<f64>(doubles + i * 2));
}

/** Adds doubles to `count` floats. */
export function doublesAdded(doubles: usize, count: i32, sums: usize): void {
  let i: usize = 0;
  for (const pairs = <usize>(count & ~1) * 4; i < pairs; i += 8) {
    const sum = f64x2.add(
      v128.load(doubles + i * 2),
      f64x2.promote_low_f32x4(v128.load64_zero(sums + i)),
    );
    v128.store64_lane(sums + i, f32x4.demote_f64x2_zero(sum), 0);
  }
  if (count & 1)
    store<f32>(sums + i, <f32>(load<f64>(doubles + i * 2) + <f64>load<f32>(sums + i)));
}

/** Adds the squares of `count` floats to doubles. */
export function squaresAdded(floats: usize, count: i32, sums: usize): void {
  for (let i: usize = 0; i < <usize>count * 4; i += 4) {
    const x = <f64>load<f32>(floats + i);
    store<f64>(sums + i * 2, load<f64>(sums + i * 2) + x * x);
  }
}
