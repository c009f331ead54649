import { describe, expect, it } from 'vitest';
import { ComplexFft } from '../../shared/math/complex-fft.ts';
import { framePowers } from '../../shared/math/frame-powers.ts';
import { makeRandom } from '../../shared/math/random.ts';

const shape = { size: 64, hop: 16, together: 5, edges: [1, 3, 4, 9, 20, 32] };

function signals(seed: number, length: number): Float32Array[] {
  const random = makeRandom(seed);
  return [0, 1].map(() => Float32Array.from({ length }, () => random() * 2 - 1));
}

function sumsOf(plain: boolean, channels: readonly Float32Array[], frames: number): Float32Array {
  const powers = framePowers(shape, plain);
  for (const [c, signal] of powers.signals().entries()) signal.set(channels[c]);
  // Added to what other channels had.
  const sums = Float32Array.from({ length: frames * 5 }, (_, i) => i / 100);
  powers.add(frames, sums);
  return sums;
}

describe('framePowers', () => {
  const channels = signals(3, 4 * 16 + 64);

  it('adds up to the power of both channels under a Hann window', () => {
    const sums = sumsOf(true, channels, 5);
    const fft = new ComplexFft(64, true);
    for (let f = 0; f < 5; f++) {
      const expected = new Float64Array(5);
      for (const channel of channels) {
        const re = Float64Array.from({ length: 64 }, (_, i) => {
          return channel[f * 16 + i] * (0.5 - 0.5 * Math.cos((2 * Math.PI * i) / 64));
        });
        const im = new Float64Array(64);
        fft.transform(re, im);
        for (let b = 0; b < 5; b++)
          for (let k = shape.edges[b]; k < shape.edges[b + 1]; k++)
            expected[b] += re[k] ** 2 + im[k] ** 2;
      }
      // Two channels in one transform: a bin and its mirror hold twice what both have there.
      for (let b = 0; b < 5; b++)
        expect(sums[f * 5 + b]).toBeCloseTo((f * 5 + b) / 100 + 2 * expected[b], 4);
    }
  });

  it('gives the same bits plain and by SIMD, also after other shapes', () => {
    for (const frames of [5, 2]) {
      const fast = sumsOf(false, channels, frames);
      framePowers({ ...shape, size: 1024 });
      new ComplexFft(32768);
      expect(sumsOf(false, channels, frames)).toEqual(fast);
      expect(sumsOf(true, channels, frames)).toEqual(fast);
    }
  });
});
