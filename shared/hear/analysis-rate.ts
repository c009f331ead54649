import type { Hertz } from '../math/units.ts';

/** The rate at which the ear works, whatever the recording's own: bands up to 11 kHz. */
export const ANALYSIS_RATE: Hertz = 22050;

const ZERO_CROSSINGS = 8;

/** The signal at `ANALYSIS_RATE`, aligned so that a moment keeps its time in seconds. */
export function toAnalysisRate(signal: Float32Array, rate: Hertz): Float32Array {
  return rate === ANALYSIS_RATE ? signal : resample(signal, Math.round(rate), ANALYSIS_RATE);
}

/**
 * A signal at another rate. A windowed sinc in as many phases as the two rates' ratio needs (Smith and
 * Gossett, ICASSP 1984), short because only band levels are read off the result. There is silence
 * before and after the signal.
 *
 * @param from,to whole rates in Hz
 */
export function resample(signal: Float32Array, from: Hertz, to: Hertz): Float32Array {
  const divisor = commonDivisor(from, to);
  const up = to / divisor;
  const down = from / divisor;
  const out = new Float32Array(Math.ceil((signal.length * up) / down));
  const cutoff = Math.min(1, up / down);
  const used = Math.min(up, out.length);
  for (let n = 0; n < used; n++) {
    const { taps, at } = kernelAt(((n * down) % up) / up, cutoff);
    const first = Math.floor((n * down) / up);
    const reach = at[at.length - 1];
    // All samples of one phase in a row: its taps stay at hand.
    for (let m = n, base = first; m < out.length; m += up, base += down) {
      let sum = 0;
      if (base + at[0] >= 0 && base + reach < signal.length)
        for (let k = 0; k < taps.length; k++) sum += taps[k] * signal[base + at[k]];
      else
        for (let k = 0; k < taps.length; k++) {
          const i = base + at[k];
          if (i >= 0 && i < signal.length) sum += taps[k] * signal[i];
        }
      out[m] = sum;
    }
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
