import { describe, expect, it } from 'vitest';
import { makeRandom } from '../../shared/math/random.ts';
import { UsualFall } from '../../shared/warp/plan/usual-fall.ts';

const bins = 257;
const flat = (power: number): Float64Array => new Float64Array(bins).fill(power);

describe('UsualFall', () => {
  it('comes to the fall of what falls alike', () => {
    const usual = new UsualFall(bins);
    // 12 dB a second for half a second, time and again.
    for (let i = 0; i < 60; i++) usual.take(flat(1), flat(10 ** -0.6), 0.5);
    for (const rate of usual.rates) expect(Math.abs(rate - 12)).toBeLessThan(0.3);
  });

  it('tells low from high', () => {
    const usual = new UsualFall(bins);
    const after = flat(1).map((_, k) => (k < 100 ? 10 ** -0.2 : 10 ** -1));
    for (let i = 0; i < 60; i++) usual.take(flat(1), after, 0.5);
    expect(usual.rates[40]).toBeLessThan(5);
    expect(usual.rates[200]).toBeGreaterThan(19);
  });

  it('is none where nothing is known, where sound holds on, and where it grows', () => {
    const usual = new UsualFall(bins);
    expect(Math.max(...usual.rates)).toBe(0);
    for (let i = 0; i < 60; i++) usual.take(flat(1), flat(1), 0.5);
    expect(Math.max(...usual.rates)).toBe(0);
    for (let i = 0; i < 60; i++) usual.take(flat(1), flat(3), 0.5);
    expect(Math.max(...usual.rates)).toBe(0);
  });

  it('is the same plain and by SIMD', () => {
    const random = makeRandom(3);
    const noise = () => flat(1).map(() => random() ** 40);
    const [slow, fast] = [new UsualFall(bins, true), new UsualFall(bins)];
    for (const seconds of [0.02, 0.4, 3, 0.9]) {
      const [from, to] = [noise(), noise()];
      for (const usual of [slow, fast]) usual.take(from, to, seconds);
      expect(fast.rates).toEqual(slow.rates);
    }
    expect(Math.max(...fast.rates)).toBeGreaterThan(1);
  });
});
