import type { Decibels, Hertz, Samples, Share } from '../math/units.ts';
import type { Frames } from './attacks.ts';

/** How the sound of a band goes on between two moments. */
export interface Decay {
  /** 1 where it dies away by itself, 0 where it is sustained. */
  readonly share: Share;
  /** Fall of level in dB a second, 0 or more. */
  readonly rate: Decibels;
  /** Most by which it rose again after a fall. */
  readonly risen: Decibels;
}

/** Falls of level (dB a second) below and above which a sound counts as sustained and as dying away. */
const sustained = 2;
const dying = 6;
/** Seconds over which power is averaged to see whether it rises. */
const settling = 0.05;

/**
 * Straight line through the level of a band between two kept attacks, by least squares over short frames
 * from 20 ms after the first on. Too short to judge counts as dying away.
 */
export function measureDecay(
  frames: Frames,
  band: number,
  from: Samples,
  to: Samples,
  sampleRate: Hertz,
): Decay {
  const { hop, count, width, power, split } = frames;
  const first = Math.max(0, Math.ceil((from + 0.02 * sampleRate) / hop));
  const last = Math.min(count - 1, Math.floor((to - 0.01 * sampleRate) / hop));
  if (last - first < (0.05 * sampleRate) / hop) return { share: 1, rate: 0, risen: 0 };
  const calm = Math.min(1, hop / (settling * sampleRate));
  let mean = -1;
  let least = Number.POSITIVE_INFINITY;
  let risen = 1;
  let n = 0;
  let sx = 0;
  let sy = 0;
  let sxx = 0;
  let sxy = 0;
  for (let f = first; f <= last; f++) {
    let sum = 0;
    for (let k = split[band]; k < split[band + 1]; k++) sum += power[f * width + k];
    mean = mean < 0 ? sum : mean + calm * (sum - mean);
    if (mean < least) least = mean;
    else if (mean > least * risen) risen = mean / least;
    const y = 10 * Math.log10(sum + 1e-12);
    n++;
    sx += f;
    sy += y;
    sxx += f * f;
    sxy += f * y;
  }
  const slope = (n * sxy - sx * sy) / (n * sxx - sx * sx);
  const rate = Math.max(0, (-slope * sampleRate) / hop);
  return {
    share: Math.min(1, Math.max(0, (rate - sustained) / (dying - sustained))),
    rate,
    risen: 10 * Math.log10(risen),
  };
}
