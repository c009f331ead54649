import FFT from 'fft.js';
import { describe, expect, it } from 'vitest';
import { ComplexFft } from '../../shared/math/complex-fft.ts';
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

describe('ComplexFft', () => {
  const signalOf = (size: number, seed: number) => {
    const random = makeRandom(seed);
    return [0, 1].map(() => Float64Array.from({ length: size }, () => random() * 2 - 1));
  };

  for (const plain of [false, true])
    it(`agrees with the sum that it stands for, ${plain ? 'plain' : 'by SIMD'}`, () => {
      for (const size of [1, 2, 4, 8, 16, 32, 128, 256]) {
        const [re, im] = signalOf(size, size);
        const [a, b] = [re.slice(), im.slice()];
        new ComplexFft(size, plain).transform(a, b);
        for (let k = 0; k < size; k++) {
          let sumRe = 0;
          let sumIm = 0;
          for (let n = 0; n < size; n++) {
            const angle = (-2 * Math.PI * ((n * k) % size)) / size;
            sumRe += re[n] * Math.cos(angle) - im[n] * Math.sin(angle);
            sumIm += re[n] * Math.sin(angle) + im[n] * Math.cos(angle);
          }
          expect(a[k]).toBeCloseTo(sumRe, 11);
          expect(b[k]).toBeCloseTo(sumIm, 11);
        }
      }
    });

  it('gives the same bits plain and by SIMD, also while its memory grows', () => {
    const first = new ComplexFft(64);
    for (let size = 1; size <= 65536; size *= 2) {
      for (const [fft, points] of [
        [new ComplexFft(size), size],
        [first, 64],
      ] as const) {
        const [re, im] = signalOf(points, size + points);
        const [a, b] = [re.slice(), im.slice()];
        fft.transform(re, im);
        new ComplexFft(points, true).transform(a, b);
        expect(re.every((v, i) => v === a[i]) && im.every((v, i) => v === b[i])).toBe(true);
      }
    }
  });
});
