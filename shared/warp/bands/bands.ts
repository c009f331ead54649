import type { Hertz, Samples, Share } from '../../math/units.ts';
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
  /** Share of the full rate up to which this band holds nothing. */
  readonly bottom: number;
  /** Share of the full rate at which this band gives way to the next one, and half the width of the change. */
  readonly edge: number;
  readonly slope: number;
  /**
   * Share of the strongest bin's power from which a peak has a phase of its own. What is fainter goes with a stronger one beside
   * it: it would be led by what a stored mix is rounded by, and its parts are not.
   */
  readonly faint: Share;
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
  const at = (hertz: Hertz): number => hertz / 44100 / scale;
  const low = { edge: at(1200), slope: at(200) };
  const middle = { edge: at(4700), slope: at(400) };
  // Each begins where the one below it begins to give way.
  const above = ({ edge, slope }: typeof low): number => edge - slope;
  return [
    { decimation: 8 * scale, window: 512, bottom: 0, ...low, faint: 1e-8 },
    { decimation: 4 * scale, window: 1024, bottom: above(low), ...middle, faint: 1e-7 },
    {
      decimation: 1,
      window: 1024 * scale,
      bottom: above(middle),
      edge: 1,
      slope: 0.1,
      faint: 1e-6,
    },
  ];
}

/**
 * From 1 to 0 as `x` goes from -1 to 1, smooth to every derivative so that the filter's tail dies fast, and steep:
 * where two bands overlap, a partial that both stretch is weakened by what their phases differ. At `count` points whose
 * `x` rises; worked out only where it falls, which is a small part.
 */
export function falls(count: number, x: (point: number) => number): Float64Array {
  const table = new Float64Array(count);
  let first = 0;
  for (let end = count; first < end; ) {
    const middle = (first + end) >> 1;
    if (x(middle) <= -1) first = middle + 1;
    else end = middle;
  }
  table.fill(1, 0, first);
  for (let k = first; k < count; k++) {
    const at = x(k);
    if (at >= 1) break;
    table[k] = 1 / (1 + Math.exp((6 * at) / (1 - at * at)));
  }
  return table;
}

/** Bins of a frame of one band that may lead others: in the rest stands only what a window spreads there. */
export interface Leading {
  readonly from: number;
  readonly to: number;
  /** As the band has it. */
  readonly faint: Share;
}

/** The bins from `from` to before `to` of a frame of `size` band samples in which a band holds something. */
export function leadingBins(
  { decimation, bottom, edge, slope, faint }: Band,
  size: Samples,
): Leading {
  const bin = size * decimation;
  return {
    from: Math.floor(bottom * bin),
    to: Math.min(size / 2, Math.ceil((edge + slope) * bin)) + 1,
    faint,
  };
}
