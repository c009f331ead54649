import type { Beat } from '../hear/heard.ts';
import type { Hertz, Samples, Seconds } from '../math/units.ts';
import type { Audio } from '../take/audio.ts';
import { toSamples } from '../time/time-map.ts';

const blip: Seconds = 0.03;

/**
 * A click that follows the players, for further players to record to: one short tone a beat, an octave
 * higher and louder on the one, its first sample on the beat. Mono, as long as the take.
 */
export function guideClick(beats: readonly Beat[], length: Samples, sampleRate: Hertz): Audio {
  const click = new Float32Array(length);
  const count = toSamples(blip, sampleRate);
  for (const beat of beats) {
    const one = beat.count === 1;
    const from = toSamples(beat.time, sampleRate);
    const step = (2 * Math.PI * (one ? 1760 : 880)) / sampleRate;
    for (let i = 0; i < count && from + i < length; i++) {
      const level = (one ? 0.5 : 0.3) * (1 - i / count) ** 3;
      // A cosine, so that the first sample is the loudest: the click starts on the beat, not after it.
      if (from + i >= 0) click[from + i] = level * Math.cos(step * i);
    }
  }
  return { sampleRate, channels: [click] };
}
