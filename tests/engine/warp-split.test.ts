import { describe, expect, it } from 'vitest';
import { makeRandom } from '../../shared/math/random.ts';
import { bandsFor } from '../../shared/warp/bands/bands.ts';
import { readerOf } from '../../shared/warp/bands/reader.ts';
import { BandSource } from '../../shared/warp/bands/source.ts';
import { BandSplitter } from '../../shared/warp/bands/splitter.ts';
import { Workspace } from '../../shared/warp/bands/workspace.ts';

/** Noise split into bands and put together again, a second and a bit of it. */
function splitAt(sampleRate: number, plain: boolean) {
  const random = makeRandom(9);
  const length = Math.round(1.3 * sampleRate);
  const channels = [0, 1].map(() => Float32Array.from({ length }, () => random() - 0.5));
  const splitter = new BandSplitter(bandsFor(sampleRate), plain);
  const reader = readerOf({ sampleRate, channels });
  const { strips } = new BandSource(reader, 0, splitter, 4 * length, 3, new Workspace());
  for (const strip of strips) strip.reach(0, strip.length);
  const [left, right] = [0, 1].map(() => new Float32Array(length));
  for (let n = 0; n * splitter.hop < length; n++) {
    const part = [n * splitter.hop, (n + 1) * splitter.hop] as const;
    splitter.join(strips, n, left.subarray(...part), right.subarray(...part));
  }
  const bands = strips.map(({ re, im, base, end }) => [
    re.slice(0, end - base),
    im.slice(0, end - base),
  ]);
  return { bands, together: [left, right], channels };
}

const bytesOf = (arrays: readonly Float32Array[]): Buffer =>
  Buffer.concat(arrays.map((a) => Buffer.from(a.buffer, a.byteOffset, a.byteLength)));

describe('BandSplitter', () => {
  it.each([8000, 44100, 192000])('gives the same bits plain and by SIMD at %i Hz', (rate) => {
    const { bands, together } = splitAt(rate, true);
    const fast = splitAt(rate, false);
    expect(bytesOf(fast.bands.flat()).equals(bytesOf(bands.flat()))).toBe(true);
    expect(bytesOf(fast.together).equals(bytesOf(together))).toBe(true);
  });

  it('gives back what it split, to rounding', () => {
    const { together, channels } = splitAt(44100, false);
    for (const [c, channel] of channels.entries()) {
      let most = 0;
      for (let i = 0; i < channel.length; i++)
        most = Math.max(most, Math.abs(together[c][i] - channel[i]));
      expect(most).toBeLessThan(3e-7);
    }
  });
});
