// @ts-expect-error: decorator
@external('math', 'exp')
declare function exp(x: f64): f64;

/**
 * Weighted sums of rows, the last weight a constant, each summed up from it on in the order of the columns.
 *
 * @param x `rows` of `width` doubles, `width` even; up to three rows behind the last one are read, too
 * @param out `rows` doubles, with room for three more
 */
export function rowSums(x: usize, rows: i32, width: i32, weights: usize, out: usize): void {
  const row = <usize>width * 8;
  const constant = v128.load64_splat(weights + row);
  for (let r = 0; r < rows; r += 4) {
    let a = constant;
    let b = constant;
    let at = x + <usize>r * row;
    for (let c: usize = 0; c < row; c += 16, at += 16) {
      const w = v128.load64_splat(weights + c);
      const next = v128.load64_splat(weights + c + 8);
      const one = v128.load(at);
      const two = v128.load(at + row);
      const three = v128.load(at + 2 * row);
      const four = v128.load(at + 3 * row);
      a = f64x2.add(a, f64x2.mul(w, v128.shuffle<f64>(one, two, 0, 2)));
      b = f64x2.add(b, f64x2.mul(w, v128.shuffle<f64>(three, four, 0, 2)));
      a = f64x2.add(a, f64x2.mul(next, v128.shuffle<f64>(one, two, 1, 3)));
      b = f64x2.add(b, f64x2.mul(next, v128.shuffle<f64>(three, four, 1, 3)));
    }
    v128.store(out + <usize>r * 8, a);
    v128.store(out + <usize>r * 8 + 16, b);
  }
}

/** What weights are refitted from, and where it lies; shared/hear/beats/traits.ts fills it in. */
// @ts-expect-error: decorator
@unmanaged
class Refit {
  /** What a row teaches loses with each row that comes after it. */
  forget: f64;
  rounds: i32;
  rows: i32;
  width: i32;
  x: usize;
  /** A byte a row, 1 where it carries a beat. */
  judged: usize;
  /** `width` weights and a constant each, with room for one more. */
  prior: usize;
  tight: usize;
  model: usize;
  slope: usize;
  bend: usize;
  /** Room for a double a row each, and three more. */
  misses: usize;
  widths: usize;
}

/** `refitted` of shared/hear/beats/traits.ts with the same sums in the same order, the last row first. */
export function weightsRefitted(job: usize): void {
  const p = changetype<Refit>(job);
  const width = <usize>p.width * 8;
  for (let round = 0; round < p.rounds; round++) {
    for (let c: usize = 0; c <= width; c += 8) {
      store<f64>(p.slope + c, (load<f64>(p.prior + c) - load<f64>(p.model + c)) * load<f64>(p.tight + c));
      store<f64>(p.bend + c, load<f64>(p.tight + c));
    }
    rowSums(p.x, p.rows, p.width, p.model, p.misses);
    let weight: f64 = 1;
    let slope = load<f64>(p.slope + width);
    let bend = load<f64>(p.bend + width);
    for (let r = p.rows - 1; r >= 0; r--) {
      const at = <usize>r * 8;
      const likely = 1 / (1 + exp(-load<f64>(p.misses + at)));
      const miss = (<f64>load<u8>(p.judged + r) - likely) * weight;
      const wide = likely * (1 - likely) * weight;
      store<f64>(p.misses + at, miss);
      store<f64>(p.widths + at, wide);
      slope += miss;
      bend += wide;
      weight *= p.forget;
    }
    store<f64>(p.slope + width, slope);
    store<f64>(p.bend + width, bend);
    for (let c: usize = 0; c < width; c += 16) {
      let s = v128.load(p.slope + c);
      let b = v128.load(p.bend + c);
      let from = p.x + <usize>p.rows * width + c;
      for (let at = <usize>p.rows * 8; at > 0; ) {
        at -= 8;
        from -= width;
        const one = v128.load(from);
        s = f64x2.add(s, f64x2.mul(v128.load64_splat(p.misses + at), one));
        b = f64x2.add(b, f64x2.mul(f64x2.mul(v128.load64_splat(p.widths + at), one), one));
      }
      v128.store(p.slope + c, s);
      v128.store(p.bend + c, b);
    }
    for (let c: usize = 0; c <= width; c += 8)
      store<f64>(
        p.model + c,
        load<f64>(p.model + c) + (0.5 * load<f64>(p.slope + c)) / load<f64>(p.bend + c),
      );
  }
}
