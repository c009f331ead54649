import { RealFft } from './fft.ts';
import { KernelRoom, type Kernels, kernels } from './kernel.ts';
import type { Source } from './source.ts';
import type { Samples } from './units.ts';
import { hann } from './window.ts';

/** Cosines of a whole turn in `size` steps, then the sines: what the kernels' transform turns by. */
export function turns(size: number): Float64Array {
  const table = new Float64Array(2 * size);
  for (let k = 0; k < size; k++) {
    table[k] = Math.cos((2 * Math.PI * k) / size);
    table[size + k] = Math.sin((2 * Math.PI * k) / size);
  }
  return table;
}

type Taker = (nth: number, powers: Float64Array) => void;

/**
 * Power spectra of stretches of a signal under a Hann window, one after another.
 *
 * @param starts the first sample of each stretch; there is silence round the signal
 * @param size of each stretch, a power of two, 16 or more
 * @param until bins from here on are left alone
 * @param take is told each stretch's number and its bins' powers, which hold until the next call
 */
export function eachPowerSpectrum(
  source: Source,
  starts: ArrayLike<Samples>,
  size: Samples,
  until: number,
  take: Taker,
  kernel: Kernels | null = kernels(),
): void {
  const powers = new Float64Array(until);
  if (kernel) byEight(source, starts, size, powers, take, kernel);
  else byOne(source, starts, size, powers, take);
}

function byOne(
  source: Source,
  starts: ArrayLike<Samples>,
  size: Samples,
  powers: Float64Array,
  take: Taker,
): void {
  const fft = new RealFft(size);
  const window = hann(size);
  const frame = new Float32Array(size);
  const shaped = new Float64Array(size);
  const re = new Float64Array(fft.bins);
  const im = new Float64Array(fft.bins);
  for (let n = 0; n < starts.length; n++) {
    source.read(frame, starts[n]);
    for (let i = 0; i < size; i++) shaped[i] = frame[i] * window[i];
    fft.forward(shaped, re, im);
    for (let k = 0; k < powers.length; k++) powers[k] = re[k] * re[k] + im[k] * im[k];
    take(n, powers);
  }
}

function byEight(
  source: Source,
  starts: ArrayLike<Samples>,
  size: Samples,
  powers: Float64Array,
  take: Taker,
  kernel: Kernels,
): void {
  const until = powers.length;
  const room = new KernelRoom(kernel);
  const samples = room.place(8 * size * 4);
  const window = room.keep(hann(size));
  const table = room.keep(turns(size));
  const frames = room.place(8 * 4);
  const work = room.place(64 * size);
  const out = room.place(until * 32);
  room.whole(frames, 8).set(Array.from({ length: 8 }, (_, n) => samples + n * size * 4));
  const places = Array.from({ length: 8 }, (_, n) => room.floats(samples + n * size * 4, size));
  const found = room.floats(out, until * 8);
  for (let first = 0; first < starts.length; first += 8) {
    const count = Math.min(8, starts.length - first);
    for (let n = 0; n < count; n++) source.read(places[n], starts[first + n]);
    kernel.powersOfEight(frames, window, table, size, work, 0, until, out);
    for (let n = 0; n < count; n++) {
      // Even frames lie in the first four lanes, odd ones in the last.
      for (let k = 0, at = (n & 1) * 4 + (n >> 1); k < until; k++, at += 8) powers[k] = found[at];
      take(first + n, powers);
    }
  }
}
