import { makeRandom } from '../../shared/math/random.ts';
import type { Audio } from '../../shared/take/audio.ts';

/**
 * What the files of tests/data/flac were made from, to the bit: tones that fade, a silence, a stretch of
 * noise and a step to full scale, so that an encoder uses every kind of block. Triangles, not sines: sums
 * of whole numbers are the same on every machine.
 */
export function melody(channels: number, bits: number): Audio {
  const sampleRate = 44100;
  const length = 12000;
  const full = 2 ** (bits - 1);
  const random = makeRandom(bits);
  const noise = Float64Array.from({ length: 1500 }, () => Math.floor(random() * full) - full / 2);
  const one = (c: number) =>
    Float32Array.from({ length }, (_, i) => {
      if (i >= 5000 && i < 6500) return 0;
      if (i >= 8000 && i < 9500) return noise[(i - 8000 + 7 * c) % 1500] / full;
      if (i === 11000) return -1;
      if (i === 11001) return (full - 1) / full;
      const period = 97 + 31 * Math.floor(i / 2500) + c;
      const phase = (i % period) * 4;
      const triangle = (phase < 2 * period ? phase - period : 3 * period - phase) / period;
      return Math.round((triangle * full * (length - i)) / (2 * length)) / full;
    });
  return { sampleRate, channels: Array.from({ length: channels }, (_, c) => one(c)) };
}
