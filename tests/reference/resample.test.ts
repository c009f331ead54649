import { spawnSync } from 'node:child_process';
import { describe, expect, test } from 'vitest';
import { makeRandom } from '../../shared/math/random.ts';
import { readAtSpeed, resample } from '../../shared/math/resample.ts';
import { resampleLoop } from '../../shared/pack/loop-files.ts';
import { readWav } from '../../shared/take/wav-read.ts';
import { writeWav } from '../../shared/take/wav-write.ts';

/** A second of a sine at a share of full scale. */
function sine(hertz: number, rate: number, seconds = 1): Float32Array {
  return Float32Array.from(
    { length: Math.round(rate * seconds) },
    (_, i) => 0.5 * Math.sin((2 * Math.PI * hertz * i) / rate),
  );
}

/** Root mean square away from the edges, where the signal begins out of nothing. */
function level(signal: Float32Array): number {
  const edge = Math.round(signal.length * 0.1);
  const middle = signal.subarray(edge, signal.length - edge);
  return Math.sqrt(middle.reduce((sum, v) => sum + v * v, 0) / middle.length);
}

const decibels = (share: number) => 20 * Math.log10(share);

describe.each([
  [44100, 48000],
  [48000, 44100],
  [96000, 44100],
  [44100, 88200],
  [192000, 48000],
])('%i to %i Hz', (from, to) => {
  const nyquist = Math.min(from, to) / 2;

  test('the passband, to 86 % of the lower Nyquist frequency, keeps its level and its phase', () => {
    for (const share of [0.01, 0.1, 0.3, 0.5, 0.7, 0.86]) {
      const out = resample(sine(share * nyquist, from), from, to);
      const ideal = sine(share * nyquist, to);
      const difference = out.map((v, i) => v - ideal[i]);
      expect(Math.abs(decibels(level(out) / level(ideal)))).toBeLessThan(0.001);
      // All that is not the tone itself: images, noise, a wrong phase.
      expect(decibels(level(difference) / level(ideal))).toBeLessThan(-80);
    }
  });

  test('what lies above the new Nyquist frequency is 100 dB down', () => {
    if (from <= to) return;
    for (const share of [1.0, 1.05, 1.3, 1.7]) {
      const hertz = share * nyquist;
      if (hertz >= from / 2) continue;
      const tone = sine(hertz, from);
      expect(decibels(level(resample(tone, from, to)) / level(tone))).toBeLessThan(-99);
    }
  });
});

test('rates in a plain ratio and rates in none are read by the same sum', () => {
  const random = makeRandom(6);
  const noise = Float32Array.from({ length: 3000 }, () => random() - 0.5);
  for (const [from, to] of [
    [44100, 48000],
    [96000, 44100],
    [44100, 88200],
    [48000, 8000],
  ]) {
    const plain = resample(noise, from, to);
    const read = readAtSpeed(noise, 0, from / to, plain.length);
    for (let i = 0; i < plain.length; i++) expect(Math.abs(plain[i] - read[i])).toBeLessThan(1e-6);
  }
  // 44101 Hz shares nothing with 48000 Hz: as long in time all the same.
  expect(resample(noise, 44101, 48000).length).toBe(Math.round((3000 * 48000) / 44101));
});

test('a delay of a fraction of a sample is that of the sine', () => {
  const out = readAtSpeed(sine(1000, 48000), 0.37, 1, 40000);
  const ideal = Float32Array.from(
    { length: 40000 },
    (_, i) => 0.5 * Math.sin((2 * Math.PI * 1000 * (i + 0.37)) / 48000),
  );
  expect(decibels(level(out.map((v, i) => v - ideal[i])) / level(ideal))).toBeLessThan(-90);
});

test('a loop closes at another rate too: a tone that fits it whole has no seam', () => {
  const length = 44100;
  const loop = { sampleRate: 44100, channels: [sine(440, 44100)] };
  const [out] = resampleLoop(loop, 48000, 48000).channels;
  const ideal = sine(440, 48000);
  expect(length).toBe(loop.channels[0].length);
  for (let i = 0; i < 48000; i++) expect(Math.abs(out[i] - ideal[i])).toBeLessThan(2e-5);
});

const sox = spawnSync('sox', ['--version']).error === undefined;
test.runIf(sox)('agrees with sox at its best, when sox is installed', () => {
  // Noise without what either filter's slope would treat in its own way: nothing above 17 kHz.
  const random = makeRandom(4);
  const tones = Array.from({ length: 60 }, () => [100 + random() * 17000, random() * 6.28]);
  const channel = Float32Array.from({ length: 44100 }, (_, i) =>
    tones.reduce((sum, [f, p]) => sum + 0.01 * Math.sin((2 * Math.PI * f * i) / 44100 + p), 0),
  );
  const input = writeWav({ sampleRate: 44100, channels: [channel] }, { bits: '32f' });
  const ran = spawnSync(
    'sox',
    ['-t', 'wav', '-', '-t', 'wav', '-e', 'floating-point', '-b', '32', '-', 'rate', '-v', '48000'],
    { input, maxBuffer: 1 << 26 },
  );
  const [theirs] = readWav(ran.stdout, 'sox').audio.channels;
  const ours = resample(channel, 44100, 48000);
  const difference = ours.map((v, i) => v - (theirs[i] ?? 0));
  expect(decibels(level(difference) / level(ours))).toBeLessThan(-80);
});
