import type { Hertz, Samples } from '../math/units.ts';
import type { Strip } from './strip.ts';

/**
 * One of three complementary bands, as the stretch works on it: low notes want long windows, attacks
 * short ones. All but the highest are kept at a lower rate. Windows and hops count band samples.
 */
export interface Band {
  /** Full-rate samples for each band sample. */
  readonly decimation: number;
  /** Length of the stretch's window, a power of two; frames overlap by three quarters. */
  readonly window: Samples;
  /** Share of the full rate at which this band gives way to the next one, and half the width of the change. */
  readonly edge: number;
  readonly slope: number;
}

/** Which pairs of the sum a pair of one input adds to: one of them, or as a mono input all, on both sides. */
export interface LeadShare {
  readonly pairs: readonly { readonly pair: number; readonly bothSides: boolean }[];
}

/** What the stretch of one band reads and writes; band samples, all with the same padding before the start. */
export interface BandSignals {
  /** Sum of all inputs, pair by pair of channels: every phase is decided here. */
  readonly lead: readonly Strip[];
  /** What is rendered, pair by pair of each input. */
  readonly sources: readonly Strip[];
  readonly outputs: readonly Strip[];
  /** Where each of them has its part in the lead. */
  readonly shares: readonly LeadShare[];
  /** With one input the sources are the lead, so that its frames serve twice. */
  readonly single: boolean;
}

/**
 * The bands for a sample rate: at 44.1 kHz they part at 1.2 and 4.7 kHz, with windows of 93, 93 and 23 ms.
 * They scale with the rate in octaves, so that the sums run on powers of two; the edges of other rates
 * lie within half an octave of these.
 */
export function bandsFor(sampleRate: Hertz): Band[] {
  const octave = Math.min(4, Math.max(-2, Math.round(Math.log2(sampleRate / 44100))));
  const scale = 2 ** octave;
  return [
    { decimation: 8 * scale, window: 512, edge: 1200 / 44100 / scale, slope: 200 / 44100 / scale },
    { decimation: 4 * scale, window: 1024, edge: 4700 / 44100 / scale, slope: 400 / 44100 / scale },
    { decimation: 1, window: 1024 * scale, edge: 1, slope: 0.1 },
  ];
}

/**
 * From 1 to 0 as `x` goes from -1 to 1, smooth to every derivative so that the filter's tail dies fast, and steep:
 * where two bands overlap, a partial that both stretch is weakened by what their phases differ.
 */
export function fall(x: number): number {
  if (x <= -1) return 1;
  if (x >= 1) return 0;
  return 1 / (1 + Math.exp((6 * x) / (1 - x * x)));
}

/** Share of a frequency (as a share of the rate) that lies below the edge of a band. */
export const below = (band: Band, frequency: number): number =>
  fall((frequency - band.edge) / band.slope);
