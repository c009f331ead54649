import { expect, test } from 'vitest';
import { measureLoudness, measureLoudnessInFull } from '../../shared/hear/loudness/loudness.ts';
import { truePeak } from '../../shared/hear/loudness/true-peak.ts';
import { makeRandom } from '../../shared/math/random.ts';
import { type Audio, silence } from '../../shared/take/audio.ts';

function noise(seconds: number, gain = 0.3, seed = 1, sampleRate = 44100): Audio {
  const random = makeRandom(seed);
  const channels = [0, 1].map(() =>
    Float32Array.from(
      { length: Math.round(seconds * sampleRate) },
      () => (random() * 2 - 1) * gain,
    ),
  );
  return { sampleRate, channels };
}

test('twice the gain is 6.02 louder in every figure but the range', () => {
  const soft = measureLoudness(noise(6, 0.2));
  const loud = measureLoudness(noise(6, 0.4));
  expect(loud.integrated - soft.integrated).toBeCloseTo(20 * Math.log10(2), 3);
  expect(loud.truePeak - soft.truePeak).toBeCloseTo(20 * Math.log10(2), 3);
  expect(loud.range).toBeCloseTo(soft.range, 3);
});

test('silence has no loudness, and does not count among sound', () => {
  const quiet = measureLoudness(silence(2, 44100 * 5, 44100));
  expect(quiet).toEqual({
    integrated: Number.NEGATIVE_INFINITY,
    range: 0,
    truePeak: Number.NEGATIVE_INFINITY,
  });
  const audio = noise(4);
  const padded: Audio = {
    sampleRate: 44100,
    channels: audio.channels.map((c) => {
      const long = new Float32Array(44100 * 10);
      long.set(c, 44100 * 3);
      return long;
    }),
  };
  expect(measureLoudness(padded).integrated).toBeCloseTo(measureLoudness(audio).integrated, 0);
});

test('swapped channels and turned polarity change nothing', () => {
  const audio = noise(4, 0.5, 7);
  const turned: Audio = {
    sampleRate: 44100,
    channels: [audio.channels[1].map((v) => -v), audio.channels[0].map((v) => -v)],
  };
  const a = measureLoudnessInFull(audio);
  const b = measureLoudnessInFull(turned);
  for (const key of Object.keys(a) as (keyof typeof a)[]) expect(b[key]).toBeCloseTo(a[key], 9);
});

test('short sounds are measured as a whole', () => {
  const short = measureLoudness(noise(0.25, 0.3));
  expect(short.integrated).toBeCloseTo(measureLoudness(noise(5, 0.3)).integrated, 0);
  expect(measureLoudness(noise(0.003)).integrated).toBe(Number.NEGATIVE_INFINITY);
});

test('passing over quiet stretches finds the same peak as looking everywhere', () => {
  // A loud burst raises the bar for the rest; alone, the rest is looked through in full.
  const quiet = noise(0.5, 0.3, 3);
  const both: Audio = {
    sampleRate: 44100,
    channels: quiet.channels.map((c) => {
      const out = new Float32Array(c.length * 2);
      out.set(c);
      out.set(
        c.map((v) => v * 3),
        c.length,
      );
      return out;
    }),
  };
  const triple: Audio = {
    sampleRate: 44100,
    channels: quiet.channels.map((c) => c.map((v) => v * 3)),
  };
  expect(truePeak(both)).toBeCloseTo(truePeak(triple), 1);
  expect(truePeak(triple)).toBeCloseTo(truePeak(quiet) * 3, 5);
});

test('a peak between the first samples or after the last one counts', () => {
  const channel = new Float32Array(400);
  channel[0] = 1;
  channel[1] = 1;
  const first = truePeak({ sampleRate: 48000, channels: [channel] });
  const last = truePeak({ sampleRate: 48000, channels: [channel.slice().reverse()] });
  expect(first).toBeGreaterThan(1.2);
  expect(last).toBeCloseTo(first, 9);
});
