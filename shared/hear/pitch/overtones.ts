import type { Partials } from './partials.ts';

/** What is taken for an overtone of a lower partial, and how much is taken off it. */
export interface Overtones {
  /** How far it may lie from a multiple, as a ratio. */
  readonly width: number;
  /** The highest multiple. */
  readonly highest: number;
  /** Share of the lower partial's magnitude, over the root of the multiple. */
  readonly share: number;
  /** Whether octaves are taken for overtones, too. */
  readonly octaves: boolean;
}

/** What is left of partial `i` when the likely overtones of lower ones are taken off; `withoutOvertones` in kernels/pitch.ts. */
export function withoutOvertones(
  { frequencies, magnitudes }: Partials,
  i: number,
  { width, highest, share, octaves }: Overtones,
): number {
  const narrow = 1 / width;
  let left = magnitudes[i];
  for (let j = 0; j < frequencies.length; j++) {
    const ratio = frequencies[i] / frequencies[j];
    const multiple = Math.round(ratio);
    if (multiple < 2 || multiple > highest) continue;
    if (!octaves && (multiple & (multiple - 1)) === 0) continue;
    if (ratio < multiple * narrow || ratio > multiple * width) continue;
    left -= (share * magnitudes[j]) / Math.sqrt(multiple);
  }
  return Math.max(left, 0);
}
