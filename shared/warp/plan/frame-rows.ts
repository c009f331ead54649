import type { Kernels } from '../../math/kernel.ts';
import { lastingKernels } from '../../math/kernel-fft.ts';
import type { Frames } from './attacks.ts';

/** Powers that fit into the kernels' memory at a time. */
const room = 1 << 15;

/** Some rows of short-time power where kernels work on them, with room for what they find. */
export interface FrameRows {
  readonly kernel: Kernels;
  /** Address of the rows. */
  readonly at: number;
  /** How many powers fit, and how many rows of them. */
  readonly room: number;
  readonly most: number;
  /** Address of what kernels write, one double for each power and a few more. */
  readonly found: number;
  /** Brings rows there. */
  bring(first: number, end: number): void;
  doubles(at: number, count: number): Float64Array;
  floats(at: number, count: number): Float32Array;
  whole(at: number, count: number): Int32Array;
}

let places: { readonly at: number; readonly found: number } | undefined;

/** Null where the machine has no WebAssembly SIMD. What was written counts until rows are asked for again. */
export function frameRows({ power, width }: Frames): FrameRows | null {
  const lasting = lastingKernels();
  if (!lasting) return null;
  const { kernel, room: memory } = lasting;
  places ??= { at: memory.place(room * 4), found: memory.place(room * 8 + 1024) };
  const { at, found } = places;
  return {
    kernel,
    at,
    room,
    most: Math.floor(room / width),
    found,
    bring: (first, end) => {
      memory.floats(at, (end - first) * width).set(power.subarray(first * width, end * width));
    },
    doubles: (where, count) => memory.doubles(where, count),
    floats: (where, count) => memory.floats(where, count),
    whole: (where, count) => memory.whole(where, count),
  };
}
