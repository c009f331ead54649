import { decibelsOf } from '../../math/decibels.ts';
import type { Decibels, Hertz, Samples, Share } from '../../math/units.ts';
import type { Frames } from './attacks.ts';
import { frameRows } from './frame-rows.ts';

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
 * In steps of a half: a mix that was stored apart from its parts differs from their sum by rounding, and the time
 * plan must be the same to the sample. How fast level falls is no matter of samples and stays as measured.
 */
const onGrid = (x: Decibels): Decibels => Math.round(2 * x) / 2;

/**
 * Straight line through the level of a band between two kept attacks, by least squares over short frames
 * from 20 ms after the first on. Too short to judge counts as dying away.
 *
 * @param plain for the plain form, whatever the machine has; the other gives the same to the last bit
 */
export function measureDecay(
  frames: Frames,
  band: number,
  from: Samples,
  to: Samples,
  sampleRate: Hertz,
  plain = false,
): Decay {
  const { hop, count } = frames;
  const first = Math.max(0, Math.ceil((from + 0.02 * sampleRate) / hop));
  const last = Math.min(count - 1, Math.floor((to - 0.01 * sampleRate) / hop));
  if (last - first < (0.05 * sampleRate) / hop) return { share: 1, rate: 0, risen: 0 };
  const calm = Math.min(1, hop / (settling * sampleRate));
  const n = last - first + 1;
  const line = lineOf(frames, band, first, last, calm, plain);
  const { sx, sy, sxx, sxy, risen } = line;
  const slope = (n * sxy - sx * sy) / (n * sxx - sx * sx);
  const rate = Math.max(0, (-slope * sampleRate) / hop);
  return {
    share: Math.min(1, Math.max(0, (onGrid(rate) - sustained) / (dying - sustained))),
    rate,
    risen: onGrid(decibelsOf(risen)),
  };
}

/** What a straight line through levels comes from: sums of frame numbers, levels (dB), their squares and products. */
interface Line {
  readonly sx: number;
  readonly sy: number;
  readonly sxx: number;
  readonly sxy: number;
  /** By what share a running mean of power rose at most after it was least. */
  readonly risen: number;
}

function lineOf(
  frames: Frames,
  band: number,
  first: number,
  last: number,
  calm: number,
  plain: boolean,
): Line {
  const { width, power, split } = frames;
  const rows = plain ? null : frameRows(frames);
  if (rows) {
    const { kernel, at, most, found } = rows;
    rows.doubles(found, 7).set([-1, Number.POSITIVE_INFINITY, 1, 0, 0, 0, 0]);
    for (let f = first; f <= last; f += most) {
      const end = Math.min(last + 1, f + most);
      rows.bring(f, end);
      kernel.levelLine(at, width, end - f, f, split[band], split[band + 1], calm, found);
    }
    const [, , risen, sx, sy, sxx, sxy] = rows.doubles(found, 7);
    return { sx, sy, sxx, sxy, risen };
  }
  let mean = -1;
  let least = Number.POSITIVE_INFINITY;
  let risen = 1;
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
    const y = decibelsOf(sum + 1e-12);
    sx += f;
    sy += y;
    sxx += f * f;
    sxy += f * y;
  }
  return { sx, sy, sxx, sxy, risen };
}
