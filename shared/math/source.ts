import type { Samples } from './units.ts';

/** Samples that are read as they are asked for; outside `length` there is silence. */
export interface Source {
  readonly length: Samples;
  /** Fills `into` with the samples from `from` on. */
  read(into: Float32Array, from: Samples): void;
}

/** An array as a source. */
export function sourceOf(signal: Float32Array): Source {
  return {
    length: signal.length,
    read(into, from) {
      const first = Math.min(into.length, Math.max(0, -from));
      const last = Math.max(first, Math.min(into.length, signal.length - from));
      into.fill(0, 0, first);
      if (last > first) into.set(signal.subarray(from + first, from + last), first);
      into.fill(0, last);
    },
  };
}
