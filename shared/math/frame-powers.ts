import { ComplexFft } from './complex-fft.ts';
import type { KernelFft } from './kernel-fft.ts';
import type { Samples } from './units.ts';
import { hann } from './window.ts';

/** What powers are read off: overlapping frames under a Hann window, and the bins that they are summed between. */
export interface FrameShape {
  /** Length of a frame, a power of two, 16 or more, and from frame to frame. */
  readonly size: Samples;
  readonly hop: Samples;
  /** How many frames are taken at a time. */
  readonly together: number;
  /** Rising bin numbers, from 1 to half the size. */
  readonly edges: readonly number[];
}

/** Takes frames of two channels apart, some at a time. */
export interface FramePowers {
  /** Where the samples of both channels go that the frames are cut from; asked for anew each time. */
  signals(): readonly [Float32Array, Float32Array];
  /** Adds the powers of the first `frames` of them between each two edges, both channels together, a row a frame. */
  add(frames: number, sums: Float32Array): void;
}

const kept = new Map<string, FramePowers>();

/** By WebAssembly SIMD where there is such, with the same result to the last bit; one for each shape. */
export function framePowers(shape: FrameShape, plain = false): FramePowers {
  const fft = new ComplexFft(shape.size, plain);
  if (!fft.kernel) return plainPowers(shape, fft);
  const key = JSON.stringify(shape);
  let powers = kept.get(key);
  if (!powers) {
    powers = kernelPowers(shape, fft.kernel);
    kept.set(key, powers);
  }
  return powers;
}

const spanOf = ({ size, hop, together }: FrameShape): Samples => (together - 1) * hop + size;

function plainPowers(shape: FrameShape, fft: ComplexFft): FramePowers {
  const { size, hop, edges } = shape;
  const window = hann(size);
  const left = new Float32Array(spanOf(shape));
  const right = new Float32Array(left.length);
  const re = new Float64Array(size);
  const im = new Float64Array(size);
  const width = edges.length - 1;
  return {
    signals: () => [left, right],
    add: (frames, sums) => {
      for (let f = 0; f < frames; f++) {
        for (let i = 0, j = f * hop; i < size; i++, j++) {
          const w = window[i];
          re[i] = left[j] * w;
          im[i] = right[j] * w;
        }
        fft.transform(re, im);
        let k = edges[0];
        for (let b = 0; b < width; b++) {
          const edge = edges[b + 1];
          let sum = 0;
          for (let m = size - k; k < edge; k++, m--)
            sum += re[k] * re[k] + im[k] * im[k] + re[m] * re[m] + im[m] * im[m];
          sums[f * width + b] += sum;
        }
      }
    },
  };
}

function kernelPowers(shape: FrameShape, fft: KernelFft): FramePowers {
  const { size, hop, together, edges } = shape;
  const { room, kernel, reAt, imAt, workRe, workIm, turns } = fft;
  const span = spanOf(shape);
  const width = edges.length - 1;
  const left = room.place(span * 4);
  const right = room.place(span * 4);
  const window = room.place(size * 8);
  const edgesAt = room.place(edges.length * 4);
  const sumsAt = room.place(together * width * 4);
  room.doubles(window, size).set(hann(size));
  room.whole(edgesAt, edges.length).set(edges);
  return {
    signals: () => [room.floats(left, span), room.floats(right, span)],
    add: (frames, sums) => {
      const placed = room.floats(sumsAt, frames * width);
      placed.set(sums);
      kernel.framePowers(
        ...([left, right, frames, hop, window, size] as const),
        ...([reAt, imAt, workRe, workIm, turns] as const),
        ...([edgesAt, width, sumsAt] as const),
      );
      sums.set(placed);
    },
  };
}
