import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { fade, fadePart } from '../../shared/loop/ring.ts';

const audioOf = (...channels: Float32Array[]) => ({ sampleRate: 8000, channels });

describe('fade', () => {
  it('rises and falls as a quarter sine, so that two that cross keep their power', () => {
    const [out, back] = [new Float32Array(100).fill(1), new Float32Array(100).fill(1)];
    fade(audioOf(out), 0, 40);
    fade(audioOf(back), 40, 0);
    for (let i = 0; i < 40; i++) expect(out[60 + i] ** 2 + back[i] ** 2).toBeCloseTo(1, 5);
    expect(out.subarray(0, 60).every((v) => v === 1)).toBe(true);
  });

  it('is the same bit for bit part by part', () => {
    const size = fc.integer({ min: 0, max: 80 });
    fc.assert(
      fc.property(
        size,
        size,
        size,
        fc.array(fc.integer({ min: 1, max: 30 }), { minLength: 1 }),
        (length, rise, fall, steps) => {
          const whole = Float32Array.from({ length }, (_, i) => Math.cos(i));
          const parts = whole.slice();
          fade(audioOf(whole), rise, fall);
          for (let at = 0, k = 0; at < length; k++) {
            const end = Math.min(length, at + steps[k % steps.length]);
            fadePart(audioOf(parts.subarray(at, end)), at, length, rise, fall);
            at = end;
          }
          expect(parts).toEqual(whole);
        },
      ),
      { numRuns: 200, seed: 42 },
    );
  });
});
