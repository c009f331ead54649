import { describe, expect, it } from 'vitest';
import { type Attack, findAttacks, shortFrames } from '../../shared/warp/attacks.ts';
import { bandsFor } from '../../shared/warp/bands.ts';
import { readerOf } from '../../shared/warp/reader.ts';

const rate = 44100;

function attacksOf(samples: Float32Array): Attack[] {
  const reader = readerOf({ sampleRate: rate, channels: [samples] });
  return findAttacks(shortFrames(reader, bandsFor(rate)), reader);
}

describe('findAttacks', () => {
  it('hears two strokes 8 ms apart as two', () => {
    const two = Float32Array.from({ length: rate }, (_, i) =>
      [0.5, 0.508].reduce((sum, from, k) => {
        const t = i / rate - from;
        return t < 0
          ? sum
          : sum + (k + 0.4) * Math.exp(-8 * t) * Math.sin(2 * Math.PI * (2500 - 1900 * k) * t);
      }, 0),
    );
    const starts = attacksOf(two).map(({ start }) => start / rate);
    for (const at of [0.5, 0.508])
      expect(starts.some((start) => Math.abs(start - at) < 0.004)).toBe(true);
  });

  it('begins before a sound that goes on and on rising', () => {
    const slow = Float32Array.from({ length: rate }, (_, i) =>
      [300, 520, 900, 1600, 2800, 4700, 7000, 9500].reduce((sum, hertz, k) => {
        const t = i / rate - 0.5 - 0.0016 * k;
        const level = 0.02 * 1.2 ** k * Math.min(1, t * 500) * Math.exp(-8 * t);
        return t < 0 ? sum : sum + level * Math.sin(2 * Math.PI * hertz * t);
      }, 0),
    );
    const [{ start }] = attacksOf(slow);
    expect(start / rate).toBeLessThan(0.5);
    expect(start / rate).toBeGreaterThan(0.496);
  });
});
