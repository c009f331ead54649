import { decibelsOf } from './decibels';

/** What falls are taken from and to, as `UsualFall` of shared/warp/plan/usual-fall.ts says it; it fills it in. */
// @ts-expect-error: decorator
@unmanaged
class FallJob {
  /** As the constants there. */
  audible: f64;
  slowest: f64;
  fastest: f64;
  kept: f64;
  unknown: f64;
  /** In what time powers fell, and for how much of it that counts. */
  seconds: f64;
  time: f64;
  bins: i32;
  /** A double for each bin, the last one a whole number. */
  from: usize;
  to: usize;
  falls: usize;
  times: usize;
  rates: usize;
  /** Over how many bins on each side falls are taken together. */
  reach: usize;
}

/** Takes down by how much each bin fell, and what falls usually are from then on. */
export function fallsTaken(job: FallJob): void {
  const end = <usize>job.bins * 8;
  const falls = job.falls;
  const times = job.times;
  let top: f64 = 0;
  for (let k: usize = 0; k < end; k += 8)
    top = max(top, max(load<f64>(job.from + k), load<f64>(job.to + k)));
  const least = top * job.audible;
  for (let k: usize = 0; k < end; k += 8) {
    const from = load<f64>(job.from + k);
    const to = load<f64>(job.to + k);
    let fall = load<f64>(falls + k) * job.kept;
    let time = load<f64>(times + k) * job.kept;
    if (from > least && to > least) {
      const rate = decibelsOf(from / to) / job.seconds;
      fall += max(job.slowest, min(job.fastest, rate)) * job.time;
      time += job.time;
    }
    store<f64>(falls + k, fall);
    store<f64>(times + k, time);
  }
  let low = 0;
  let high = 0;
  let fall: f64 = 0;
  let time: f64 = 0;
  for (let k = 0; k < job.bins; k++) {
    const reach = load<i32>(job.reach + <usize>k * 4);
    for (const last = min(job.bins, k + reach + 1); high < last; high++) {
      fall += load<f64>(falls + <usize>high * 8);
      time += load<f64>(times + <usize>high * 8);
    }
    for (; low < k - reach; low++) {
      fall -= load<f64>(falls + <usize>low * 8);
      time -= load<f64>(times + <usize>low * 8);
    }
    store<f64>(job.rates + <usize>k * 8, max<f64>(0, fall / (time + job.unknown)));
  }
}
