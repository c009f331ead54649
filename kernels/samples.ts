/**
 * Samples of one channel as files store them, to floats: `count` of them, `step` bytes apart. Whole fours
 * are written, and up to 16 bytes behind the last sample are read.
 */

/** Signed, of 16 bits. */
export function samplesOf16(bytes: usize, step: i32, count: i32, out: usize): void {
  const scale: f32 = 1.0 / 32768.0;
  const end = out + <usize>count * 4;
  if (step == 4) {
    // Two channels: this one's samples are the lower halves.
    const factor = f32x4.splat(scale);
    for (; out < end; out += 16, bytes += 16) {
      const both = v128.load(bytes);
      const own = i32x4.shr_s(i32x4.shl(both, 16), 16);
      v128.store(out, f32x4.mul(f32x4.convert_i32x4_s(own), factor));
    }
  } else
    for (; out < end; out += 4, bytes += <usize>step)
      store<f32>(out, <f32>(<i32>load<i16>(bytes)) * scale);
}

/** Signed, of 24 bits. */
export function samplesOf24(bytes: usize, step: i32, count: i32, out: usize): void {
  const scale: f32 = 1.0 / 8388608.0;
  for (const end = out + <usize>count * 4; out < end; out += 4, bytes += <usize>step)
    store<f32>(out, <f32>((load<i32>(bytes) << 8) >> 8) * scale);
}

/** Floats of 32 bits. Returns 1 where one of them is not a number. */
export function samplesOfFloats(bytes: usize, step: i32, count: i32, out: usize): i32 {
  let odd: f32 = 0;
  for (const end = out + <usize>count * 4; out < end; out += 4, bytes += <usize>step) {
    const x = load<f32>(bytes);
    // 0 for every number, and not a number for NaN and the infinities.
    odd += x - x;
    store<f32>(out, x);
  }
  return odd != odd ? 1 : 0;
}

/** Two channels, each times its gain, added up; whole fours are written. */
export function mixed(a: usize, b: usize, gainA: f32, gainB: f32, count: i32, out: usize): void {
  const p = f32x4.splat(gainA);
  const q = f32x4.splat(gainB);
  for (let at: usize = 0; at < <usize>count * 4; at += 16)
    v128.store(out + at, f32x4.add(f32x4.mul(p, v128.load(a + at)), f32x4.mul(q, v128.load(b + at))));
}

/**
 * Adds what two channels have with themselves and with each other to three doubles: a a, b b, a b, of every
 * `step`-th sample.
 */
export function together(a: usize, b: usize, count: i32, step: i32, sums: usize): void {
  let aa = load<f64>(sums);
  let bb = load<f64>(sums + 8);
  let ab = load<f64>(sums + 16);
  for (let i: usize = 0; i < <usize>count; i += <usize>step) {
    const x = <f64>load<f32>(a + i * 4);
    const y = <f64>load<f32>(b + i * 4);
    aa += x * x;
    bb += y * y;
    ab += x * y;
  }
  store<f64>(sums, aa);
  store<f64>(sums + 8, bb);
  store<f64>(sums + 16, ab);
}

/** What one number of the stream's state is over the one before. */
const further: i32 = 0x6d2b79f5;

/** The next number of the stream in [0, 1) whose state stands at `state`: mulberry32, as `shared/math/random.ts` has it. */
@inline
function random(state: usize): f64 {
  const s = load<u32>(state) + further;
  store<u32>(state, s);
  let x = (s ^ (s >> 15)) * (s | 1);
  x ^= x + (x ^ (x >> 7)) * (x | 61);
  return <f64>(x ^ (x >> 14)) / 4294967296.0;
}

/**
 * A sample in steps of the target's grid: as it is where it lies on the grid, else with triangular dither from the
 * stream at `state`, rounded (halves upwards) and clipped; 0 for what is not a number.
 */
@inline
function onGrid(sample: f32, full: f64, state: usize): i32 {
  let value = <f64>sample * full;
  if (floor(value) != value || abs(value) == Infinity) {
    value += random(state);
    value -= random(state);
    const below = floor(value);
    value = value - below >= 0.5 ? below + 1 : below;
  }
  if (value != value) return 0;
  return <i32>max(min(value, full - 1), -full);
}

/** Two samples of which neither lies on the grid, as `onGrid` has them: two lanes, and two numbers of the stream for each. */
@inline
function bothOnGrid(samples: v128, full: f64, state: usize): v128 {
  const s = load<i32>(state);
  store<i32>(state, s + 4 * further);
  const states = i32x4.add(
    i32x4.splat(s),
    i32x4(1 * further, 2 * further, 3 * further, 4 * further),
  );
  let x = i32x4.mul(
    v128.xor(states, i32x4.shr_u(states, 15)),
    v128.or(states, i32x4.splat(1)),
  );
  const y = i32x4.mul(v128.xor(x, i32x4.shr_u(x, 7)), v128.or(x, i32x4.splat(61)));
  x = v128.xor(x, i32x4.add(x, y));
  x = v128.xor(x, i32x4.shr_u(x, 14));
  const range = f64x2.splat(1.0 / 4294967296.0);
  const up = f64x2.convert_low_i32x4_u(v128.shuffle<i32>(x, x, 0, 2, 0, 2));
  const down = f64x2.convert_low_i32x4_u(v128.shuffle<i32>(x, x, 1, 3, 1, 3));
  let value = f64x2.add(samples, f64x2.mul(up, range));
  value = f64x2.sub(value, f64x2.mul(down, range));
  const below = f64x2.floor(value);
  const half = f64x2.ge(f64x2.sub(value, below), f64x2.splat(0.5));
  value = f64x2.add(below, v128.and(half, f64x2.splat(1)));
  value = f64x2.max(f64x2.min(value, f64x2.splat(full - 1)), f64x2.splat(-full));
  // What is not a number becomes 0.
  return i32x4.trunc_sat_f64x2_s_zero(value);
}

/** Two samples from `x` on to integers, in the first two lanes. */
@inline
function twoOnGrid(x: usize, full: f64, state: usize): v128 {
  const exact = f64x2.mul(f64x2.promote_low_f32x4(v128.load64_zero(x)), f64x2.splat(full));
  if (i64x2.all_true(f64x2.ne(f64x2.floor(exact), exact))) return bothOnGrid(exact, full, state);
  const first = onGrid(load<f32>(x), full, state);
  return i32x4(first, onGrid(load<f32>(x + 4), full, state), 0, 0);
}

/**
 * Samples of one channel to how files store them: `count` of them, `step` bytes apart. Dither is drawn from the stream at `state`.
 */

/** To 16 bits. */
export function samplesTo16(x: usize, count: i32, state: usize, step: i32, bytes: usize): void {
  for (const end = x + <usize>(count & ~1) * 4; x < end; x += 8, bytes += 2 * <usize>step) {
    const values = twoOnGrid(x, 32768.0, state);
    store<i16>(bytes, <i16>i32x4.extract_lane(values, 0));
    store<i16>(bytes + <usize>step, <i16>i32x4.extract_lane(values, 1));
  }
  if (count & 1) store<i16>(bytes, <i16>onGrid(load<f32>(x), 32768.0, state));
}

@inline
function store24(bytes: usize, value: i32): void {
  store<i16>(bytes, <i16>value);
  store<i8>(bytes + 2, <i8>(value >> 16));
}

/** To 24 bits. */
export function samplesTo24(x: usize, count: i32, state: usize, step: i32, bytes: usize): void {
  for (const end = x + <usize>(count & ~1) * 4; x < end; x += 8) {
    const values = twoOnGrid(x, 8388608.0, state);
    store24(bytes, i32x4.extract_lane(values, 0));
    bytes += <usize>step;
    store24(bytes, i32x4.extract_lane(values, 1));
    bytes += <usize>step;
  }
  if (count & 1) store24(bytes, onGrid(load<f32>(x), 8388608.0, state));
}

/** To floats of 32 bits. */
export function samplesToFloats(x: usize, count: i32, step: i32, bytes: usize): void {
  for (const end = x + <usize>count * 4; x < end; x += 4, bytes += <usize>step)
    store<f32>(bytes, load<f32>(x));
}
