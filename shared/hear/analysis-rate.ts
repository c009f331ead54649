import type { Hertz } from '../math/units.ts';

/** The rate at which the ear works, whatever the recording's own: bands up to 11 kHz. */
export const ANALYSIS_RATE: Hertz = 22050;

const ZERO_CROSSINGS = 8;

/**
 * The signal at `ANALYSIS_RATE`, aligned so that a moment keeps its time in seconds. A windowed sinc in
 * as many phases as the two rates' ratio needs (Smith and Gossett, ICASSP 1984), short because only
 * band levels are read off the result.
 */
export function toAnalysisRate(signal: Float32Array, rate: Hertz): Float32Array {
  if (rate === ANALYSIS_RATE) return signal;
  const divisor = commonDivisor(Math.round(rate), ANALYSIS_RATE);
  const up = ANALYSIS_RATE / divisor;
  const down = Math.round(rate) / divisor;
  const length = Math.ceil((signal.length * up) / down);
  const phases = new Map<number, { taps: Float64Array; at: Int32Array }>();
  const out = new Float32Array(length);
  for (let n = 0; n < length; n++) {
    const whole = Math.floor((n * down) / up);
    const phase = (n * down) % up;
    let kernel = phases.get(phase);
    if (!kernel) {
      kernel = kernelAt(phase / up, Math.min(1, up / down));
      phases.set(phase, kernel);
    }
    const { taps, at } = kernel;
    let sum = 0;
    if (whole + at[0] >= 0 && whole + at[at.length - 1] < signal.length)
      for (let k = 0; k < taps.length; k++) sum += taps[k] * signal[whole + at[k]];
    else
      for (let k = 0; k < taps.length; k++) {
        const i = whole + at[k];
        if (i >= 0 && i < signal.length) sum += taps[k] * signal[i];
      }
    out[n] = sum;
  }
  return out;
}

/** Taps that are nothing (every second one when the rate is halved) are left out. */
function kernelAt(fraction: number, cutoff: number): { taps: Float64Array; at: Int32Array } {
  const reach = ZERO_CROSSINGS / cutoff;
  const taps: number[] = [];
  const at: number[] = [];
  for (let k = Math.ceil(fraction - reach); k <= Math.floor(fraction + reach); k++) {
    const x = k - fraction;
    const arc = Math.PI * x * cutoff;
    const sinc = x === 0 ? 1 : Math.sin(arc) / arc;
    const tap = cutoff * sinc * (0.5 + 0.5 * Math.cos((Math.PI * x) / reach));
    if (Math.abs(tap) < 1e-9) continue;
    taps.push(tap);
    at.push(k);
  }
  return { taps: Float64Array.from(taps), at: Int32Array.from(at) };
}

function commonDivisor(a: number, b: number): number {
  return b === 0 ? a : commonDivisor(b, a % b);
}
