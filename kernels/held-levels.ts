import { decibelsOf } from './decibels';

// @ts-expect-error: decorator
@external('math', 'pow')
declare function pow(x: f64, y: f64): f64;

/** What levels come from, as `HeldLevels` of shared/warp/plan/held-levels.ts says it; it fills it in. */
// @ts-expect-error: decorator
@unmanaged
class HeldJob {
  silent: f64;
  doubt: f64;
  older: f64;
  fastest: f64;
  believed: f64;
  farthest: f64;
  /** Time in which what `last` held fell to `before`; 0 where that says nothing. */
  measured: f64;
  lag: f64;
  dying: f64;
  bins: i32;
  /** A double for each bin, the last one a float. */
  last: usize;
  before: usize;
  after: usize;
  rates: usize;
  gain: usize;
  fall: usize;
  time: usize;
  gains: usize;
}

/** Goes on from one piece to the next; the largest gain either way. */
export function heldGains(job: HeldJob): f64 {
  const end = <usize>job.bins * 8;
  let top: f64 = 0;
  for (let k: usize = 0; k < end; k += 8)
    top = max(top, max(load<f64>(job.before + k), load<f64>(job.after + k)));
  const least = top * job.silent;
  let most: f64 = 0;
  for (let k: usize = 0; k < end; k += 8) {
    const before = load<f64>(job.before + k);
    const sounds = before > least;
    let fall = load<f64>(job.fall + k);
    let time = load<f64>(job.time + k);
    if (sounds && job.measured > 0) {
      const last = load<f64>(job.last + k);
      if (last > 0) {
        fall += decibelsOf(last / before);
        time += job.measured;
      }
    }
    const rate = (fall + job.doubt * job.older * load<f64>(job.rates + k)) / (time + job.doubt);
    const missing = max(<f64>0, min(job.fastest, rate)) * job.lag * job.dying * job.believed;
    const wanted = max(-job.farthest, min(job.farthest, load<f64>(job.gain + k) + missing));
    const old = sounds ? min(<f64>1, before / load<f64>(job.after + k)) : 0;
    // Nothing of 1 is left to be raised.
    const gain = old == 0 ? 0 : decibelsOf(old * pow(10, wanted / 10) + 1 - old);
    store<f64>(job.gain + k, gain);
    store<f64>(job.fall + k, fall * old);
    store<f64>(job.time + k, time * old);
    store<f32>(job.gains + (k >> 1), <f32>gain);
    most = max(most, Math.abs(gain));
  }
  return most;
}

/** Lays `count` gains (dB, floats) over turns that have other, but as evenly spaced, frequencies. */
export function turnsRaised(turns: usize, bins: i32, gains: usize, count: i32): void {
  const imaginary = <usize>bins * 8;
  const step = <f64>(count - 1) / <f64>(bins - 1);
  for (let k = 0; k < bins; k++, turns += 8) {
    const x = <f64>k * step;
    const i = min(count - 2, <i32>x);
    const low = <f64>load<f32>(gains + (<usize>i << 2));
    const high = <f64>load<f32>(gains + (<usize>i << 2) + 4);
    const gain = pow(10, (low + (high - low) * (x - <f64>i)) / 20);
    store<f64>(turns, load<f64>(turns) * gain);
    store<f64>(turns + imaginary, load<f64>(turns + imaginary) * gain);
  }
}
