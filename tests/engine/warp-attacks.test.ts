import { describe, expect, it } from 'vitest';
import { makeRandom } from '../../shared/math/random.ts';
import { type Attack, findAttacks, shortFrames } from '../../shared/warp/attacks.ts';
import { bandsFor } from '../../shared/warp/bands.ts';
import { readerOf } from '../../shared/warp/reader.ts';

const rate = 44100;
const seconds = 2;

/** A loud stroke with a noisy start at 1 s and a soft tone so many seconds after it. */
function strokes(after: number, soft: number): Float32Array {
  const random = makeRandom(7);
  return Float32Array.from({ length: seconds * rate }, (_, i) => {
    const t = i / rate - 1;
    const hiss = 0.002 * (random() - 0.5);
    const loud =
      t < 0
        ? 0
        : Math.exp(-4 * t) * Math.sin(2 * Math.PI * 440 * t) + Math.exp(-25 * t) * (random() - 0.5);
    const u = t - after;
    const quiet = u < 0 ? 0 : soft * Math.min(1, u / 0.002) * Math.exp(-4 * u);
    return hiss + 0.5 * loud + quiet * Math.sin(2 * Math.PI * 247 * u);
  });
}

function attacksOf(samples: Float32Array, anchors: readonly number[]): Attack[] {
  const reader = readerOf({ sampleRate: rate, channels: [samples] });
  return findAttacks(shortFrames(reader, bandsFor(rate)), reader, anchors);
}

describe('findAttacks', () => {
  it('believes an anchor that something soft begins there, under a loud sound', () => {
    for (const [after, soft] of [
      [0.035, 0.08],
      [0.045, 0.04],
    ]) {
      const samples = strokes(after, soft);
      const near = (all: readonly Attack[]) =>
        all.filter(({ start }) => Math.abs(start / rate - 1 - after) < 0.008);
      expect(near(attacksOf(samples, [1]))).toHaveLength(0);
      expect(near(attacksOf(samples, [1, 1 + after]))).toHaveLength(1);
    }
  });

  it('finds nothing at anchors where nothing begins, and no attack twice', () => {
    const held = Float32Array.from({ length: seconds * rate }, (_, i) =>
      Math.sin((2 * Math.PI * 220 * i) / rate),
    );
    const begun = attacksOf(held, []);
    expect(attacksOf(held, [0.5, 1, 1.5])).toEqual(begun);
    const samples = strokes(0.3, 0.3);
    expect(attacksOf(samples, [1, 1.3])).toEqual(attacksOf(samples, []));
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
    const starts = attacksOf(two, []).map(({ start }) => start / rate);
    for (const at of [0.5, 0.508])
      expect(starts.some((start) => Math.abs(start - at) < 0.004)).toBe(true);
  });
});
