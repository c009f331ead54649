/**
 * Adds two kinds of weights to the tally of the place that each stands at, and to the sum of all: pairs of doubles, a pair a
 * place and the sum behind them.
 *
 * @param weights `count` floats each
 * @param at a byte each: the place of that weight; below 0 it counts nowhere
 */
export function tallied(
  weights: usize,
  others: usize,
  at: usize,
  count: i32,
  places: i32,
  tally: usize,
): void {
  const total = tally + (<usize>places << 4);
  let all = v128.load(total);
  for (let k: usize = 0; k < <usize>count; k++) {
    const place = <i32>load<i8>(at + k);
    if (place < 0) continue;
    const both = f64x2.promote_low_f32x4(
      v128.load32_lane(others + k * 4, v128.load32_zero(weights + k * 4), 1),
    );
    const sum = tally + (<usize>place << 4);
    v128.store(sum, f64x2.add(v128.load(sum), both));
    all = f64x2.add(all, both);
  }
  v128.store(total, all);
}
