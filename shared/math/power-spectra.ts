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
  eachEight(source, starts, size, until, kernel, room, (first, count, at) => {
    const found = room.floats(at, until * 8);
    for (let n = 0; n < count; n++) {
      for (let k = 0, lane = laneOf(n); k < until; k++, lane += 8) powers[k] = found[lane];
      take(first + n, powers);
    }
  });
}

/** Which of the eight numbers of a bin is that of the nth spectrum: even ones are the first four, odd ones the last. */
export function laneOf(nth: number): number {
  return (nth & 1) * 4 + (nth >> 1);
}

/**
 * Power spectra as `eachPowerSpectrum` has them, eight at a time, left in the kernels' memory.
 *
 * @param room where no place may be taken any more
 * @param take is told the number of the first, how many there are and where their powers lie: for each bin
 * eight numbers (`laneOf`)
 */
export function eachEight(
  source: Source,
  starts: ArrayLike<Samples>,
  size: Samples,
  until: number,
  kernel: Kernels,
  room: KernelRoom,
  take: (first: number, count: number, powers: number) => void,
): void {
  const samples = room.place(8 * size * 4);
  const window = room.keep(hann(size));
  const table = room.keep(turns(size));
  const frames = room.place(8 * 4);
  const work = room.place(64 * size);
  const out = room.place(until * 32);
  room.whole(frames, 8).set(Array.from({ length: 8 }, (_, n) => samples + n * size * 4));
  const places = Array.from({ length: 8 }, (_, n) => room.floats(samples + n * size * 4, size));
  for (let first = 0; first < starts.length; first += 8) {
    const count = Math.min(8, starts.length - first);
    for (let n = 0; n < count; n++) source.read(places[n], starts[first + n]);
    kernel.powersOfEight(frames, window, table, size, work, 0, until, out);
    take(first, count, out);
  }
}

/**
 * Sums of the powers between neighbouring edges, of stretches as `eachPowerSpectrum` takes them.
 *
 * @param edges rising bin numbers
 * @returns a row of `edges.length - 1` numbers a stretch
 */
export function bandPowers(
  source: Source,
  starts: ArrayLike<Samples>,
  size: Samples,
  edges: readonly number[],
  kernel: Kernels | null = kernels(),
): Float64Array {
  const bands = edges.length - 1;
  const plain: AddPowers = (powers, to, at) => {
    for (let b = 0; b < bands; b++)
      for (let k = edges[b]; k < edges[b + 1]; k++) to[at + b] += powers[k];
  };
  const byKernel: AddEight = (own, room, sums) => {
    const bounds = room.place(edges.length * 4);
    room.whole(bounds, edges.length).set(edges);
    return (powers) => own.sumsOfEight(powers, bounds, bands, sums);
  };
  return rowsOf(source, starts, size, edges[bands], bands, plain, byKernel, kernel);
}

/**
 * Magnitudes added up by classes, of stretches as `eachPowerSpectrum` takes them.
 *
 * @param classOf the class of each bin from 0 on, negative for none
 * @returns a row of `classes` numbers a stretch
 */
export function classMagnitudes(
  source: Source,
  starts: ArrayLike<Samples>,
  size: Samples,
  classOf: Int8Array,
  classes: number,
  kernel: Kernels | null = kernels(),
): Float64Array {
  const until = classOf.length;
  const plain: AddPowers = (powers, to, at) => {
    for (let k = 0; k < until; k++)
      if (classOf[k] >= 0) to[at + classOf[k]] += Math.sqrt(powers[k]);
  };
  const byKernel: AddEight = (own, room, sums) => {
    const of = room.place(until);
    room.bytes(of, until).set(classOf);
    return (powers) => own.classesOfEight(powers, of, until, classes, sums);
  };
  return rowsOf(source, starts, size, until, classes, plain, byKernel, kernel);
}

/** Adds what a stretch's powers come to onto its row, which begins at `at`. */
type AddPowers = (powers: ArrayLike<number>, to: Float64Array, at: number) => void;
/** Makes ready what writes the rows of eight stretches to `sums`, given where their powers lie. */
type AddEight = (own: Kernels, room: KernelRoom, sums: number) => (powers: number) => void;

/** A row of `width` numbers for each stretch, by kernels where there are any. */
function rowsOf(
  source: Source,
  starts: ArrayLike<Samples>,
  size: Samples,
  until: number,
  width: number,
  plain: AddPowers,
  byKernel: AddEight,
  kernel: Kernels | null,
): Float64Array {
  const out = new Float64Array(starts.length * width);
  if (!kernel) {
    const take = (nth: number, powers: ArrayLike<number>) => plain(powers, out, nth * width);
    eachPowerSpectrum(source, starts, size, until, take, null);
    return out;
  }
  const room = new KernelRoom(kernel);
  const sums = room.place(8 * width * 8);
  const add = byKernel(kernel, room, sums);
  eachEight(source, starts, size, until, kernel, room, (first, count, powers) => {
    add(powers);
    out.set(room.doubles(sums, count * width), first * width);
  });
  return out;
}
