import { KernelRoom, type Kernels, kernels } from '../math/kernel.ts';
import { type Source, sourceOf } from '../math/source.ts';
import type { Hertz, Samples } from '../math/units.ts';

/** The rate at which the ear works, whatever the recording's own: bands up to 11 kHz. */
export const ANALYSIS_RATE: Hertz = 22050;

const ZERO_CROSSINGS = 8;

/**
 * A signal at another rate, aligned so that a moment keeps its time in seconds. A windowed sinc in as
 * many phases as the two rates' ratio needs (Smith and Gossett, ICASSP 1984), short because only band
 * levels are read off the result. There is silence before and after the signal.
 *
 * @param from,to whole rates in Hz
 */
export function resample(signal: Float32Array | Source, from: Hertz, to: Hertz): Float32Array {
  const source = signal instanceof Float32Array ? sourceOf(signal) : signal;
  const kernel = kernels();
  const filter = filterFor(from, to);
  if (filter.up === 1 && filter.down === 1) return wholeOf(source);
  if (!kernel) return resamplePlainly(wholeOf(source), filter);
  return resampleBySpans(source, filter, kernel);
}

/** The same a sample at a time: what the kernels are measured by. */
export function resampleSlowly(signal: Float32Array, from: Hertz, to: Hertz): Float32Array {
  return resamplePlainly(signal, filterFor(from, to));
}

function wholeOf(source: Source): Float32Array {
  const whole = new Float32Array(source.length);
  source.read(whole, 0);
  return whole;
}

/** The taps of every phase: result `n` is phase `n mod up` applied `first[phase]` samples from `floor(n down / up)` on. */
interface Filter {
  readonly up: number;
  readonly down: number;
  readonly first: readonly number[];
  readonly taps: readonly Float64Array[];
}

function filterFor(from: Hertz, to: Hertz): Filter {
  const divisor = commonDivisor(from, to);
  const up = to / divisor;
  const down = from / divisor;
  const cutoff = Math.min(1, up / down);
  const reach = ZERO_CROSSINGS / cutoff;
  const first: number[] = [];
  const taps: Float64Array[] = [];
  for (let phase = 0; phase < up; phase++) {
    const fraction = ((phase * down) % up) / up;
    const start = Math.ceil(fraction - reach);
    first.push(start);
    taps.push(
      Float64Array.from({ length: Math.floor(fraction + reach) - start + 1 }, (_, k) => {
        const x = start + k - fraction;
        const arc = Math.PI * x * cutoff;
        const sinc = x === 0 ? 1 : Math.sin(arc) / arc;
        return cutoff * sinc * (0.5 + 0.5 * Math.cos((Math.PI * x) / reach));
      }),
    );
  }
  return { up, down, first, taps };
}

function commonDivisor(a: number, b: number): number {
  return b === 0 ? a : commonDivisor(b, a % b);
}

function resamplePlainly(signal: Float32Array, { up, down, first, taps }: Filter): Float32Array {
  const out = new Float32Array(Math.ceil((signal.length * up) / down));
  for (let n = 0; n < out.length; n++) {
    const h = taps[n % up];
    const from = Math.floor((n * down) / up) + first[n % up];
    const last = Math.min(h.length, signal.length - from);
    let sum = 0;
    for (let k = Math.max(0, -from); k < last; k++) sum += h[k] * signal[from + k];
    out[n] = sum;
  }
  return out;
}

/** About as many samples are worked on together. */
const SPAN: Samples = 16384;

function resampleBySpans(source: Source, filter: Filter, kernel: Kernels): Float32Array {
  const { up, down, first, taps } = filter;
  const out = new Float32Array(Math.ceil((source.length * up) / down));
  // Whole fours: results of a halved signal are made four at a time.
  const periods = 4 * Math.max(1, Math.round(SPAN / 4 / down));
  const before = -Math.min(...first);
  const after = down + Math.max(...taps.map((h) => h.length));
  const room = new KernelRoom(kernel);
  const span = periods * down + before + after;
  const x = room.place(span * 4);
  const y = room.place(periods * up * 4);
  const halving = up === 1 && down === 2;
  const half = ZERO_CROSSINGS;
  const work = room.place((periods + 2 * half) * 4);
  const kept = halving
    ? [room.keep(Array.from({ length: half }, (_, k) => taps[0][2 * half + 1 + 2 * k]))]
    : taps.map((h) => room.keep(h, wholeFours(h.length)));
  for (let period = 0; period * up < out.length; period += periods) {
    source.read(room.floats(x, span), period * down - before);
    if (halving) {
      kernel.halved(x + before * 4, taps[0][2 * half], kept[0], half, work, y, periods);
    } else
      for (let phase = 0; phase < up; phase++) {
        const from = x + (before + Math.floor((phase * down) / up) + first[phase]) * 4;
        const n = wholeFours(taps[phase].length);
        kernel.filtered(from, down, kept[phase], n, y + phase * 4, up, periods);
      }
    const count = Math.min(periods * up, out.length - period * up);
    out.set(room.floats(y, count), period * up);
  }
  return out;
}

function wholeFours(count: number): number {
  return 4 * Math.ceil(count / 4);
}
