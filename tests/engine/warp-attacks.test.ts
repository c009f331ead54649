import { describe, expect, it } from 'vitest';
import { makeRandom } from '../../shared/math/random.ts';
import { bandsFor } from '../../shared/warp/bands/bands.ts';
import { readerOf } from '../../shared/warp/bands/reader.ts';
import { type Attack, findAttacks, shortFrames } from '../../shared/warp/plan/attacks.ts';

const rate = 44100;

function attacksOf(samples: Float32Array): Attack[] {
  const reader = readerOf({ sampleRate: rate, channels: [samples] });
  return findAttacks(shortFrames(reader, bandsFor(rate)), reader);
}

/** Notes that set off and die away over soft noise, two of them at a time. */
function notes(seconds: number, hertz: number): Float32Array {
  const random = makeRandom(9);
  return Float32Array.from({ length: Math.round(seconds * hertz) }, (_, i) =>
    [0.23, 0.171].reduce(
      (sum, step, k) => {
        const t = (i / hertz + 0.05 * k) % step;
        const pitch = 2 * Math.PI * (330 + 700 * k);
        return sum + 0.3 * Math.exp(-12 * t) * Math.min(1, 400 * t) * Math.sin(pitch * t);
      },
      0.002 * (random() - 0.5),
    ),
  );
}

describe('findAttacks', () => {
  it.each([8000, 44100, 192000])('finds the same plain and by SIMD at %i Hz', (hertz) => {
    // So long that flux comes to the kernels in several goes.
    const seconds = hertz === 44100 ? 60 : 3;
    const channels = [notes(seconds, hertz), notes(seconds, hertz).fill(0, 0, hertz)];
    const reader = readerOf({ sampleRate: hertz, channels });
    const frames = shortFrames(reader, bandsFor(hertz));
    const found = findAttacks(frames, reader);
    expect(found.length).toBeGreaterThan(2 * seconds);
    expect(findAttacks(frames, reader, true)).toEqual(found);
  });

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
