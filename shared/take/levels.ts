import type { Decibels, Samples, Seconds } from '../math/units.ts';
import { type Audio, lengthOf } from './audio.ts';

/** Level of a take over time: mean power over all channels in blocks of one length. */
export interface LevelCurve {
  /** One block, in seconds. */
  readonly hop: Seconds;
  /** Decibels below full scale of each block's root mean square; -120 for silence. */
  readonly levels: Float32Array;
}

/** Measures the level in blocks of `hop` seconds (10 ms by default), rounded to whole samples. */
export function levelCurve(audio: Audio, hop: Seconds = 0.01): LevelCurve {
  const block: Samples = Math.max(1, Math.round(hop * audio.sampleRate));
  const length = lengthOf(audio);
  const levels = new Float32Array(Math.ceil(length / block));
  for (let b = 0; b < levels.length; b++) {
    const start = b * block;
    const end = Math.min(start + block, length);
    let power = 0;
    for (const channel of audio.channels) {
      // Two sums at once: each need not wait for the other.
      let even = 0;
      let odd = 0;
      let i = start;
      for (; i + 1 < end; i += 2) {
        even += channel[i] * channel[i];
        odd += channel[i + 1] * channel[i + 1];
      }
      power += even + odd + (i < end ? channel[i] * channel[i] : 0);
    }
    const mean = power / ((end - start) * audio.channels.length);
    levels[b] = 10 * Math.log10(Math.max(mean, 1e-12));
  }
  return { hop: block / audio.sampleRate, levels };
}

/** Mean power of a stretch in decibels; -120 where nothing sounds. */
export function meanLevel({ hop, levels }: LevelCurve, from: Seconds, until: Seconds): Decibels {
  const first = Math.max(0, Math.floor(from / hop));
  const last = Math.min(levels.length, Math.max(first + 1, Math.ceil(until / hop)));
  let power = 0;
  for (let b = first; b < last; b++) power += 10 ** (levels[b] / 10);
  return last > first ? 10 * Math.log10(Math.max(power / (last - first), 1e-12)) : -120;
}
