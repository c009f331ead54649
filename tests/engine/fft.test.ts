import FFT from 'fft.js';
import { describe, expect, it } from 'vitest';
import { RealFft } from '../../shared/math/fft.ts';
import { makeRandom } from '../../shared/math/random.ts';

describe('RealFft', () => {
  for (const size of [4, 8, 64, 1024, 4096]) {
    it(`agrees with fft.js 4.0.4 at ${size} points and inverts itself`, () => {
      const random = makeRandom(size);
      const signal = Float64Array.from({ length: size }, () => random() * 2 - 1);
      const ours = new RealFft(size);
      const re = new Float64Array(ours.bins);
      const im = new Float64Array(ours.bins);
      ours.forward(signal, re, im);
      const other = new FFT(size);
      const out = other.createComplexArray() as number[];
      other.realTransform(out, Array.from(signal));
      for (let k = 0; k < ours.bins; k++) {
        expect(re[k]).toBeCloseTo(out[2 * k] as number, 10);
        expect(im[k]).toBeCloseTo(out[2 * k + 1] as number, 10);
      }
      const back = new Float64Array(size);
      ours.inverse(re, im, back);
      for (let i = 0; i < size; i++) expect(back[i]).toBeCloseTo(signal[i] as number, 12);
    });
  }
});
