import { RealFft } from '../math/fft.ts';
import { KernelRoom, type Kernels } from '../math/kernel.ts';
import { turns } from '../math/power-spectra.ts';
import type { Samples } from '../math/units.ts';
import { hann } from '../math/window.ts';

/** Which frames of a signal, and which bands of each frame's spectrum. */
export interface Frames {
  /** Window in samples, a power of two; frame n is centred on sample n times `hop`. */
  readonly size: Samples;
  readonly hop: Samples;
  readonly count: number;
  /** Edges of the bands, in bins. */
  readonly edges: readonly number[];
}

/**
 * Amplitudes of every band in every frame, a row a frame, into `to` from its number `at` on. There is
 * silence before and after the signal.
 */
export function bandAmplitudes(
  signal: Float32Array,
  frames: Frames,
  to: Float32Array,
  at: number,
  kernel: Kernels | null,
): void {
  if (kernel) amplitudesByEight(signal, frames, to, at, kernel);
  else amplitudesByOne(signal, frames, to, at);
}

function amplitudesByOne(
  signal: Float32Array,
  { size, hop, count, edges }: Frames,
  to: Float32Array,
  at: number,
): void {
  const fft = new RealFft(size);
  const window = hann(size);
  const re = new Float64Array(fft.bins);
  const im = new Float64Array(fft.bins);
  const frame = new Float64Array(size);
  const bands = edges.length - 1;
  const scale = 2 / size;
  for (let n = 0; n < count; n++) {
    const from = n * hop - size / 2;
    for (let i = 0; i < size; i++) {
      const place = from + i;
      frame[i] = place >= 0 && place < signal.length ? signal[place] * window[i] : 0;
    }
    fft.forward(frame, re, im);
    for (let b = 0; b < bands; b++) {
      let sum = 0;
      for (let k = edges[b]; k < edges[b + 1]; k++) sum += re[k] * re[k] + im[k] * im[k];
      to[at + n * bands + b] = Math.sqrt(sum) * scale;
    }
  }
}

/** Frames whose samples are handed to the kernels at once. */
const TOGETHER = 512;

function amplitudesByEight(
  signal: Float32Array,
  { size, hop, count, edges }: Frames,
  to: Float32Array,
  at: number,
  kernel: Kernels,
): void {
  const bands = edges.length - 1;
  const room = new KernelRoom(kernel);
  const span = (TOGETHER - 1) * hop + size;
  const samples = room.place(span * 4);
  const window = room.keep(hann(size));
  const table = room.keep(turns(size));
  const bandEdges = room.place(edges.length * 4);
  const frames = room.place(TOGETHER * 4);
  const work = room.place(64 * size);
  const powers = room.place((size / 2 + 1) * 32);
  const rows = room.place(TOGETHER * bands * 4);
  room.whole(bandEdges, edges.length).set(edges);
  const addresses = room.whole(frames, TOGETHER);
  for (let n = 0; n < TOGETHER; n++) addresses[n] = samples + n * hop * 4;
  const view = room.floats(samples, span);
  const results = room.floats(rows, TOGETHER * bands);
  for (let first = 0; first < count; first += TOGETHER) {
    const used = Math.min(TOGETHER, count - first);
    const from = first * hop - size / 2;
    const start = Math.max(0, from);
    const end = Math.max(start, Math.min(signal.length, from + span));
    view.fill(0);
    view.set(signal.subarray(start, end), start - from);
    for (let n = 0; n < used; n += 8) {
      kernel.powersOfEight(
        frames + n * 4,
        window,
        table,
        size,
        work,
        edges[0],
        edges[bands],
        powers,
      );
      kernel.bandsOfEight(powers, bandEdges, bands, 2 / size, rows + n * bands * 4);
    }
    to.set(results.subarray(0, used * bands), at + first * bands);
  }
}

/** `log2(1 + gain * x)` of every number, in place. */
export function toDoublings(data: Float32Array, gain: number, kernel: Kernels | null): void {
  if (!kernel) {
    for (let i = 0; i < data.length; i++) data[i] = Math.log2(1 + data[i] * gain);
    return;
  }
  const room = new KernelRoom(kernel);
  const span = 16384;
  const place = room.place(span * 4);
  const view = room.floats(place, span);
  for (let from = 0; from < data.length; from += span) {
    const part = data.subarray(from, from + span);
    view.set(part);
    kernel.logarithms(place, part.length, gain);
    part.set(view.subarray(0, part.length));
  }
}
