import type { Audio } from '../take/audio.ts';
import type { Tuning } from './heard.ts';
import { hearPartials, type Partials } from './partials.ts';

/**
 * How far the recording's notes stand from equal temperament on A4 = 440 Hz (ISO 16): the circular mean
 * of all partials' distances to the nearest semitone, weighted by magnitude. The confidence is the
 * length of that mean vector: 1 where all agree, 0 where nothing is tuned.
 */
export function hearTuning(audio: Audio): Tuning {
  return tuningOf(hearPartials(audio));
}

/** The same from partials heard already. */
export function tuningOf(moments: readonly Partials[]): Tuning {
  let x = 0;
  let y = 0;
  let total = 0;
  for (const { frequencies, magnitudes } of moments)
    frequencies.forEach((frequency, i) => {
      const weight = Math.sqrt(magnitudes[i]);
      const angle = 2 * Math.PI * 12 * Math.log2(frequency / 440);
      x += weight * Math.cos(angle);
      y += weight * Math.sin(angle);
      total += weight;
    });
  if (total === 0) return { a4: 440, cents: 0, confidence: 0 };
  const cents = (Math.atan2(y, x) / (2 * Math.PI)) * 100;
  return { a4: 440 * 2 ** (cents / 1200), cents, confidence: Math.hypot(x, y) / total };
}
