import { cosineSeries, exponentialSeries, sineSeries } from './series';

/** What shared/warp/stretch/noise.ts judges noise by and what it keeps; it says what each is and fills it in. */
// @ts-expect-error: decorator
@unmanaged
class NoiseJob {
  aside: f64;
  standsOut: f64;
  peaky: f64;
  flat: f64;
  /** Bins of a block, an even number, and blocks on each side of one. */
  block: i32;
  around: i32;
  blocks: i32;
  /** A double for each block. */
  sums: usize;
  squares: usize;
  clear: usize;
  shares: usize;
  gains: usize;
}

// @ts-expect-error: decorator
@inline
function double(at: usize, i: i32): f64 {
  return load<f64>(at + (<usize>i << 3));
}

// @ts-expect-error: decorator
@inline
function put(at: usize, i: i32, value: f64): void {
  store<f64>(at + (<usize>i << 3), value);
}

// @ts-expect-error: decorator
@inline
function ramp(x: f64, none: f64, all: f64): f64 {
  return max(<f64>0, min(<f64>1, (x - none) / (all - none)));
}

// @ts-expect-error: decorator
@inline
function chance(seed: i32): f64 {
  let x = (seed ^ (seed >>> 16)) * 0x45d9f3b;
  x = (x ^ (x >>> 16)) * 0x45d9f3b;
  return <f64>(<u32>(x ^ (x >>> 16))) / 2147483648 - 1;
}

function judge(job: NoiseJob, power: usize): void {
  const block = job.block;
  const around = job.around;
  const blocks = job.blocks;
  for (let b = 0, at = power; b < blocks; b++) {
    let sum: f64 = 0;
    for (const end = at + <usize>block * 8; at < end; at += 16) {
      const roots = f64x2.sqrt(v128.load(at));
      sum = sum + f64x2.extract_lane(roots, 0) + f64x2.extract_lane(roots, 1);
    }
    put(job.sums, b, sum);
  }
  let wide: f64 = 0;
  for (let b = 0; b < min(around, blocks); b++) wide += double(job.sums, b);
  for (let b = 0, at = power; b < blocks; b++) {
    if (b + around < blocks) wide += double(job.sums, b + around);
    if (b > around) wide -= double(job.sums, b - around - 1);
    const n = min(blocks - 1, b + around) - max(0, b - around) + 1;
    let most: f64 = 0;
    let square: f64 = 0;
    for (const end = at + <usize>block * 8; at < end; at += 8) {
      const p = load<f64>(at);
      if (p > most) most = p;
      square += p;
    }
    const mean = wide / <f64>(n * block);
    const share = mean > 0 ? ramp(sqrt(most) / mean, job.aside, job.standsOut) : 0;
    put(job.clear, b, share);
    put(job.squares, b, share * square);
  }
  for (let b = 0; b < blocks; b++) put(job.sums, b, double(job.sums, b) * double(job.clear, b));
  let sum: f64 = 0;
  let square: f64 = 0;
  let count: f64 = 0;
  for (let b = -around; b < blocks; b++) {
    const next = b + around;
    if (next < blocks) {
      sum += double(job.sums, next);
      square += double(job.squares, next);
      count += double(job.clear, next);
    }
    const gone = b - around - 1;
    if (gone >= 0) {
      sum -= double(job.sums, gone);
      square -= double(job.squares, gone);
      count -= double(job.clear, gone);
    }
    if (b < 0) continue;
    const beside = min(
      double(job.clear, b),
      min(b > 0 ? double(job.clear, b - 1) : 1, b + 1 < blocks ? double(job.clear, b + 1) : 1),
    );
    let share: f64 = 0;
    if (beside != 0 && square > 0) {
      const flatness = (sum * sum) / (count * <f64>block * square);
      share = beside * ramp(count, 2, 3) * ramp(flatness, job.peaky, job.flat);
    }
    put(job.shares, b, share);
  }
}

/**
 * Stirs turns as `Noise` of shared/warp/stretch/noise.ts does.
 *
 * @param turns real parts of `bins` turns, imaginary ones behind them
 * @param spread most that is turned (radians), and `lost` what noise loses (nepers)
 */
export function noiseStirred(
  job: NoiseJob, power: usize, turns: usize, bins: i32, spread: f64, lost: f64, seed: i32,
): void {
  judge(job, power);
  const imaginary = <usize>bins * 8;
  const block = <usize>job.block * 8;
  for (let b = 0; b < job.blocks; b++, turns += block) {
    const share = double(job.shares, b);
    put(job.gains, b, 1);
    if (share == 0) continue;
    const gain = exponentialSeries(share * lost);
    const y = spread * share * chance(seed + b) * 0.25;
    const quarterSine = sineSeries(y);
    const quarterCosine = cosineSeries(y);
    const halfSine = 2 * quarterSine * quarterCosine;
    const halfCosine = quarterCosine * quarterCosine - quarterSine * quarterSine;
    const c = (halfCosine * halfCosine - halfSine * halfSine) * gain;
    const s = 2 * halfSine * halfCosine * gain;
    put(job.gains, b, gain);
    const cosines = f64x2.splat(c);
    const sines = f64x2.splat(s);
    for (let k: usize = 0; k < block; k += 16) {
      const x = v128.load(turns + k);
      const y = v128.load(turns + imaginary + k);
      v128.store(turns + k, f64x2.sub(f64x2.mul(x, cosines), f64x2.mul(y, sines)));
      v128.store(turns + imaginary + k, f64x2.add(f64x2.mul(x, sines), f64x2.mul(y, cosines)));
    }
  }
}

/** Takes back what turns were raised by. */
export function noiseLowered(job: NoiseJob, turns: usize, bins: i32): void {
  const imaginary = <usize>bins * 8;
  const block = <usize>job.block * 8;
  for (let b = 0; b < job.blocks; b++, turns += block) {
    const gain = double(job.gains, b);
    if (gain == 1) continue;
    const gains = f64x2.splat(gain);
    for (let k: usize = 0; k < block; k += 16) {
      v128.store(turns + k, f64x2.div(v128.load(turns + k), gains));
      v128.store(turns + imaginary + k, f64x2.div(v128.load(turns + imaginary + k), gains));
    }
  }
}
