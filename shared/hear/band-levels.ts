import { RealFft } from '../math/fft.ts';
import { KernelRoom, type Kernels } from '../math/kernel.ts';
import { turns } from '../math/power-spectra.ts';
import { sourceOf } from '../math/source.ts';
import type { Samples } from '../math/units.ts';
import { hann } from '../math/window.ts';

/** How frames of a signal are looked at. */
export interface Framing {
  /** Window in samples, a power of two, 16 or more. */
  readonly size: Samples;
  /** From frame to frame. */
  readonly hop: Samples;
  /** Edges of the bands, in bins. */
  readonly edges: readonly number[];
}

/**
 * Writes the amplitudes of every band in `count` frames, a row a frame, into `to` from its number `at` on.
 * The first frame is centred on sample `from`; there is silence round the signal.
 */
export type BandReader = (
  signal: Float32Array,
  from: Samples,
  count: number,
  to: Float32Array,
  at: number,
) => void;

/** A reader of one framing; with kernels it must be done before another one is made. */
export function bandReader(framing: Framing, kernel: Kernels | null): BandReader {
  return kernel ? readerByEight(framing, kernel) : readerByOne(framing);
}

function readerByOne({ size, hop, edges }: Framing): BandReader {
  const fft = new RealFft(size);
  const window = hann(size);
  const re = new Float64Array(fft.bins);
  const im = new Float64Array(fft.bins);
  const frame = new Float64Array(size);
  const bands = edges.length - 1;
  const scale = 2 / size;
  return (signal, from, count, to, at) => {
    for (let n = 0; n < count; n++) {
      const start = from + n * hop - size / 2;
      for (let i = 0; i < size; i++) {
        const place = start + i;
        frame[i] = place >= 0 && place < signal.length ? signal[place] * window[i] : 0;
      }
      fft.forward(frame, re, im);
      for (let b = 0; b < bands; b++) {
        let sum = 0;
        for (let k = edges[b]; k < edges[b + 1]; k++) sum += re[k] * re[k] + im[k] * im[k];
        to[at + n * bands + b] = Math.sqrt(sum) * scale;
      }
    }
  };
}

/** Frames whose samples are handed to the kernels at once. */
const TOGETHER = 512;

function readerByEight({ size, hop, edges }: Framing, kernel: Kernels): BandReader {
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
  const [low] = edges;
  const high = edges[bands];
  return (signal, from, count, to, at) => {
    const source = sourceOf(signal);
    for (let first = 0; first < count; first += TOGETHER) {
      const used = Math.min(TOGETHER, count - first);
      // Frames are looked at by eights, and two share a transform: what is behind the last is read, too.
      const needed = view.subarray(0, (8 * Math.ceil(used / 8) - 1) * hop + size);
      source.read(needed, from + first * hop - size / 2);
      for (let n = 0; n < used; n += 8) {
        kernel.powersOfEight(frames + n * 4, window, table, size, work, low, high, powers);
        kernel.bandsOfEight(powers, bandEdges, bands, 2 / size, rows + n * bands * 4);
      }
      to.set(results.subarray(0, used * bands), at + first * bands);
    }
  };
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
