import { describe, expect, it } from 'vitest';
import { cosineSeries, exponentialSeries, sineSeries } from '../../shared/math/series.ts';

describe('power series', () => {
  it('give what Math gives, to rounding', () => {
    for (let i = -1000; i <= 1000; i++) {
      const y = (i / 1000) * (Math.PI / 4);
      expect(Math.abs(sineSeries(y) - Math.sin(y))).toBeLessThan(2e-16);
      expect(Math.abs(cosineSeries(y) - Math.cos(y))).toBeLessThan(3e-16);
      const x = Math.abs(i) / 2000;
      expect(Math.abs(exponentialSeries(x) - Math.exp(x))).toBeLessThan(5e-16);
    }
  });
});
