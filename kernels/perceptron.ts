/**
 * Weights times inputs plus biases, for a whole number of pairs of units, summed up in the order of the inputs.
 *
 * @param x `n` doubles
 * @param weights `n` rows of `units` doubles
 * @param least what a unit's answer is at least
 */
export function layer(
  x: usize, n: i32, weights: usize, biases: usize, units: i32, least: f64, out: usize,
): void {
  const row = <usize>units * 8;
  const end = x + <usize>n * 8;
  const floor = f64x2.splat(least);
  let at: usize = 0;
  for (; at + 64 <= row; at += 64) {
    let a = v128.load(biases + at);
    let b = v128.load(biases + at + 16);
    let c = v128.load(biases + at + 32);
    let d = v128.load(biases + at + 48);
    let w = weights + at;
    for (let from = x; from < end; from += 8, w += row) {
      const v = v128.load64_splat(from);
      a = f64x2.add(a, f64x2.mul(v128.load(w), v));
      b = f64x2.add(b, f64x2.mul(v128.load(w + 16), v));
      c = f64x2.add(c, f64x2.mul(v128.load(w + 32), v));
      d = f64x2.add(d, f64x2.mul(v128.load(w + 48), v));
    }
    v128.store(out + at, f64x2.max(floor, a));
    v128.store(out + at + 16, f64x2.max(floor, b));
    v128.store(out + at + 32, f64x2.max(floor, c));
    v128.store(out + at + 48, f64x2.max(floor, d));
  }
  for (; at < row; at += 16) {
    let a = v128.load(biases + at);
    let w = weights + at;
    for (let from = x; from < end; from += 8, w += row)
      a = f64x2.add(a, f64x2.mul(v128.load(w), v128.load64_splat(from)));
    v128.store(out + at, f64x2.max(floor, a));
  }
}

/** A layer: inputs, units (an even number), weights, biases, and where its answers go. */
// @ts-expect-error: decorator
@unmanaged
class Layer {
  n: i32;
  units: i32;
  weights: usize;
  biases: usize;
  out: usize;
}

/** A perceptron with one answer; its hidden layers lie one after the other. */
// @ts-expect-error: decorator
@unmanaged
class Net {
  bias: f64;
  farthest: f64;
  inputs: i32;
  hidden: i32;
  /** Units of the last hidden layer that are none to fill up. */
  traits: i32;
  mean: usize;
  scale: usize;
  input: usize;
  last: usize;
  layers: usize;
}

/** The answer of a perceptron to `x`, single precision; what its last hidden layer says lies where its answers go. */
export function perceived(at: usize, x: usize): f64 {
  const net = changetype<Net>(at);
  for (let c: usize = 0; c < <usize>net.inputs; c++) {
    const away = (<f64>load<f32>(x + c * 4) - load<f64>(net.mean + c * 8)) * load<f64>(net.scale + c * 8);
    store<f64>(net.input + c * 8, max(-net.farthest, min(net.farthest, away)));
  }
  let before = net.input;
  for (let l = 0; l < net.hidden; l++) {
    const one = changetype<Layer>(net.layers + <usize>l * 20);
    layer(before, one.n, one.weights, one.biases, one.units, 0, one.out);
    before = one.out;
  }
  let sum = net.bias;
  for (let u: usize = 0; u < <usize>net.traits; u++)
    sum += load<f64>(net.last + u * 8) * load<f64>(before + u * 8);
  return sum;
}
