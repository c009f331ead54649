import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { hearTuning } from '../../shared/hear/pitch/tuning.ts';
import type { Cents, Hertz, Seconds } from '../../shared/math/units.ts';

const rate = 22050;

/** Notes of a second each, of twelve partials that fall off by 1/n; `cents` tells how far each is from A4 = 440 Hz. */
function played(keys: readonly number[], cents: (at: Seconds) => Cents, gain = 0.2) {
  const samples = new Float32Array(keys.length * rate);
  keys.forEach((key, n) => {
    const hertz: Hertz = 440 * 2 ** ((key - 69) / 12 + cents(n) / 1200);
    for (let i = 0; i < rate; i++) {
      let x = 0;
      for (let p = 1; p <= 12 && p * hertz < 10000; p++)
        x += Math.sin((2 * Math.PI * p * hertz * i) / rate) / p;
      samples[n * rate + i] = gain * x * Math.min(1, i / 200, (rate - i) / 200);
    }
  });
  return { sampleRate: rate, channels: [samples] };
}

describe('tuning', () => {
  it('of a lone tone is that of the tone, not of its overtones', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 36, max: 76 }),
        fc.integer({ min: -45, max: 45 }),
        (key, cents) => {
          const tuning = hearTuning(played([key, key], () => cents));
          // The lowest are the coarsest: of all these tones the worst is 1.51 off, from C3 on 0.94.
          expect(Math.abs(tuning.cents - cents)).toBeLessThan(key < 48 ? 1.6 : 1);
          expect(tuning.a4).toBeCloseTo(440 * 2 ** (tuning.cents / 1200), 9);
          expect(tuning.confidence).toBeGreaterThan(0.8);
        },
      ),
      { numRuns: 25 },
    );
  });

  it('of a scale is what all its notes say, at any gain', () => {
    const scale = [45, 48, 50, 52, 55, 57, 60, 62];
    for (const gain of [0.2, 0.002]) {
      const tuning = hearTuning(played(scale, () => 12, gain));
      expect(Math.abs(tuning.cents - 12)).toBeLessThan(0.5);
      expect(Math.abs(tuning.drift ?? 99)).toBeLessThan(1);
    }
  });

  it('tells how far it rises from beginning to end', () => {
    const keys = Array.from({ length: 24 }, (_, n) => 48 + ((n * 5) % 24));
    const { drift } = hearTuning(played(keys, (at) => at - 12));
    // From the middle of the first four seconds to that of the last.
    expect(Math.abs((drift ?? 99) - 20)).toBeLessThan(2);
  });

  it('of silence is not known', () => {
    const silence = { sampleRate: rate, channels: [new Float32Array(rate)] };
    expect(hearTuning(silence)).toEqual({ a4: 440, cents: 0, confidence: 0, drift: 0 });
  });
});
