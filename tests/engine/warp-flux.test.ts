import { describe, expect, it } from 'vitest';
import { makeRandom } from '../../shared/math/random.ts';
import { bandsFor } from '../../shared/warp/bands/bands.ts';
import { readerOf } from '../../shared/warp/bands/reader.ts';
import { shortFrames } from '../../shared/warp/plan/attacks.ts';
import { measureDecay } from '../../shared/warp/plan/decay.ts';
import { fluxOf } from '../../shared/warp/plan/flux.ts';
import { levelsOf } from '../../shared/warp/plan/release.ts';

/** Strokes that die away, over soft noise, so long that rows come to the kernels in several goes. */
function framesAt(rate: number, seconds: number) {
  const random = makeRandom(5);
  const samples = Float32Array.from({ length: Math.round(rate * seconds) }, (_, i) => {
    const since = (i / rate) % 0.31;
    return (
      0.5 * Math.exp(-9 * since) * Math.sin(2 * Math.PI * 700 * since) + 0.003 * (random() - 0.5)
    );
  });
  return shortFrames(readerOf({ sampleRate: rate, channels: [samples] }), bandsFor(rate));
}

describe('flux, decay and levels', () => {
  it.each([8000, 44100, 96000])('give the same bits plain and by SIMD at %i Hz', (rate) => {
    const seconds = 7;
    const frames = framesAt(rate, seconds);
    const fast = fluxOf(frames, 24);
    expect(fast?.all.some((flux) => flux > 0.1)).toBe(true);
    expect(fluxOf(frames, 24, true)).toEqual(fast);
    for (const [from, to] of [
      [0, seconds],
      [0.3, 0.6],
      [3.1, 5],
    ])
      for (const band of [0, 1, 2]) {
        const line = measureDecay(frames, band, from * rate, to * rate, rate);
        expect(measureDecay(frames, band, from * rate, to * rate, rate, true)).toEqual(line);
        const piece = { from: from * rate, to: to * rate, usual: line.rate, sampleRate: rate };
        const levels = levelsOf({ frames, band, ...piece });
        expect(levels.levels.length).toBeGreaterThan(100);
        expect(levelsOf({ frames, band, ...piece }, true)).toEqual(levels);
      }
  });

  it('hear nothing in silence', () => {
    const rate = 44100;
    const reader = readerOf({ sampleRate: rate, channels: [new Float32Array(rate)] });
    const frames = shortFrames(reader, bandsFor(rate));
    expect(fluxOf(frames, 24)).toBeUndefined();
    expect(fluxOf(frames, 24, true)).toBeUndefined();
  });
});
