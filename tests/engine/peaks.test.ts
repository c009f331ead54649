import fc from 'fast-check';
import { expect, test } from 'vitest';
import { makeRandom } from '../../shared/math/random.ts';
import type { Audio } from '../../shared/take/audio.ts';
import { buildPeaks, peaksBetween } from '../../shared/take/peaks.ts';

function noise(channels: number, length: number, seed: number): Audio {
  const random = makeRandom(seed);
  return {
    sampleRate: 48000,
    channels: Array.from({ length: channels }, () =>
      Float32Array.from({ length }, () => random() * 2 - 1),
    ),
  };
}

/** The slow and plain way. */
function look(audio: Audio, from: number, to: number) {
  const all = audio.channels.flatMap((channel) => [...channel.subarray(from, to)]);
  return {
    min: Math.min(...all),
    max: Math.max(...all),
    rms: Math.sqrt(all.reduce((s, v) => s + v * v, 0) / all.length),
  };
}

test('every block of every level says what its samples say', () => {
  fc.assert(
    fc.property(
      fc.integer({ min: 1, max: 20000 }),
      fc.integer({ min: 1, max: 3 }),
      (length, channels) => {
        const audio = noise(channels, length, length);
        for (const level of buildPeaks(audio).levels) {
          expect(level.min.length).toBe(Math.ceil(length / level.block));
          const b = length % level.min.length;
          const truth = look(audio, b * level.block, Math.min((b + 1) * level.block, length));
          expect(level.min[b]).toBe(truth.min);
          expect(level.max[b]).toBe(truth.max);
          expect(level.rms[b]).toBeCloseTo(truth.rms, 5);
        }
      },
    ),
    { seed: 4, numRuns: 30 },
  );
});

test('levels are four times coarser each, down to a handful', () => {
  const levels = buildPeaks(noise(1, 300_000, 1)).levels;
  for (let i = 1; i < levels.length; i++) expect(levels[i].block).toBe(levels[i - 1].block * 4);
  expect(levels.at(-1)?.min.length).toBeLessThanOrEqual(64);
});

test('columns on block edges are exact, and none in between loses a peak', () => {
  const audio = noise(2, 64 * 64 * 4, 2);
  const peaks = buildPeaks(audio);
  const exact = peaksBetween(peaks, 0, 64 * 64 * 4, 64);
  for (let c = 0; c < 64; c++) {
    const truth = look(audio, c * 256, (c + 1) * 256);
    expect(exact.max[c]).toBe(truth.max);
    expect(exact.rms[c]).toBeCloseTo(truth.rms, 5);
  }
  fc.assert(
    fc.property(
      fc.integer({ min: 0, max: 8000 }),
      fc.integer({ min: 3000, max: 8000 }),
      (from, width) => {
        const columns = 17;
        const row = peaksBetween(peaks, from, from + width, columns);
        // All but the blocks that the ends of the stretch cut through.
        const truth = look(audio, Math.ceil(from / 64) * 64, Math.floor((from + width) / 64) * 64);
        expect(Math.max(...row.max)).toBe(truth.max);
        expect(Math.min(...row.min)).toBe(truth.min);
      },
    ),
    { seed: 5, numRuns: 50 },
  );
});

test('an attack right after a stretch is not shown in it', () => {
  const samples = Float32Array.from({ length: 60_000 }, (_, i) => (i < 44_321 ? 0.01 : 1));
  const peaks = buildPeaks({ sampleRate: 44100, channels: [samples] });
  for (const columns of [5, 30, 200]) {
    const row = peaksBetween(peaks, 1000, 44_321, columns);
    expect(Math.max(...row.max)).toBeCloseTo(0.01, 6);
  }
});

test('outside the take columns are flat', () => {
  const peaks = buildPeaks(noise(1, 1000, 3));
  const row = peaksBetween(peaks, -1000, 2000, 30);
  expect(row.max[0]).toBe(0);
  expect(row.max[29]).toBe(0);
  expect(row.max[15]).toBeGreaterThan(0);
});
