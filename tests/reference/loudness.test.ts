import { spawnSync } from 'node:child_process';
import { describe, expect, test } from 'vitest';
import { kWeighting } from '../../shared/hear/loudness/k-weighting.ts';
import { measureLoudness, measureLoudnessInFull } from '../../shared/hear/loudness/loudness.ts';
import { makeRandom } from '../../shared/math/random.ts';
import type { Audio } from '../../shared/take/audio.ts';
import { writeWav } from '../../shared/take/wav-write.ts';

const rate = 48000;

/** Stretches of one sine that runs on without a break: [peak level in dBFS, seconds] each. */
function sine(
  parts: readonly (readonly [number, number])[],
  hertz = 1000,
  sampleRate = rate,
): Float32Array {
  const lengths = parts.map(([, seconds]) => Math.round(seconds * sampleRate));
  const out = new Float32Array(lengths.reduce((a, b) => a + b, 0));
  let at = 0;
  parts.forEach(([level], p) => {
    const amplitude = 10 ** (level / 20);
    for (let i = 0; i < lengths[p]; i++, at++)
      out[at] = amplitude * Math.sin((2 * Math.PI * hertz * at) / sampleRate);
  });
  return out;
}

const stereo = (channel: Float32Array, sampleRate = rate): Audio => ({
  sampleRate,
  channels: [channel, channel],
});
const silent = Number.NEGATIVE_INFINITY;

test('coefficients are those of ITU-R BS.1770-4, tables 1 and 2', () => {
  const [shelf, high] = kWeighting(48000);
  const expected = [
    1.53512485958697, -2.69169618940638, 1.19839281085285, -1.69065929318241, 0.73248077421585,
  ];
  for (const [i, v] of [...shelf.b, ...shelf.a].entries()) expect(v).toBeCloseTo(expected[i], 12);
  expect(high.b).toEqual([1, -2, 1]);
  expect(high.a[0]).toBeCloseTo(-1.99004745483398, 12);
  expect(high.a[1]).toBeCloseTo(0.99007225036621, 12);
});

test('coefficients at 44.1 and 96 kHz are those that other meters use (pyloudnorm, libebur128)', () => {
  const at441 = kWeighting(44100);
  expect(at441[0].b[0]).toBeCloseTo(1.5308412300503478, 12);
  expect(at441[0].a[1]).toBeCloseTo(0.7125954280732254, 12);
  expect(at441[1].a[0]).toBeCloseTo(-1.989169673629796, 12);
  const at96 = kWeighting(96000);
  expect(at96[0].b[2]).toBeCloseTo(1.3782612023158187, 12);
  expect(at96[1].a[1]).toBeCloseTo(0.9950237590409233, 12);
});

test('a full-scale sine of 997 Hz in one front channel is -3.01 LKFS (BS.1770-4, Annex 1)', () => {
  for (const sampleRate of [44100, 48000, 96000]) {
    const channel = sine([[0, 5]], 997, sampleRate);
    const loudness = measureLoudness({ sampleRate, channels: [channel] });
    // The standard's tables are for 48 kHz; at other rates the bilinear transform bends the shelf a little.
    const tolerance = sampleRate === 48000 ? 0.01 : 0.02;
    expect(Math.abs(loudness.integrated - -3.0103)).toBeLessThan(tolerance);
  }
});

/*
 * EBU Tech 3341, v4 (2023), minimum requirements test signals. The second figure is what a sine made in
 * double precision gives by arithmetic of its own (K-weighting at 1000 Hz is 0.698 dB, not 0.691), the
 * first the document's, with its tolerance of 0.1 LU.
 */
describe('EBU Tech 3341', () => {
  test.each<[string, readonly (readonly [number, number])[], number, number]>([
    ['1', [[-23, 20]], -23, -22.9933],
    ['2', [[-33, 20]], -33, -32.9933],
    [
      '3',
      [
        [-36, 10],
        [-23, 60],
        [-36, 10],
      ],
      -23,
      -23.0139,
    ],
    [
      '4',
      [
        [-72, 10],
        [-36, 10],
        [-23, 60],
        [-36, 10],
        [-72, 10],
      ],
      -23,
      -23.0139,
    ],
    [
      '5',
      [
        [-26, 20],
        [-20, 20.1],
        [-26, 20],
      ],
      -23,
      -22.9787,
    ],
  ])('case %s: integrated', (_, parts, stated, exact) => {
    const { integrated } = measureLoudness(stereo(sine(parts)));
    expect(Math.abs(integrated - stated)).toBeLessThanOrEqual(0.1);
    expect(Math.abs(integrated - exact)).toBeLessThanOrEqual(0.01);
  });

  test.each([1, 2])(
    'case %i: momentary and short-term agree with integrated on a steady tone',
    (n) => {
      const loudness = measureLoudnessInFull(stereo(sine([[n === 1 ? -23 : -33, 20]])));
      expect(loudness.maxMomentary).toBeCloseTo(loudness.integrated, 1);
      expect(loudness.maxShortTerm).toBeCloseTo(loudness.integrated, 1);
    },
  );

  test('case 6: five channels, surrounds weighing 1.41', () => {
    const at = (level: number) => sine([[level, 20]]);
    const channels = [at(-28), at(-28), at(-24), at(-30), at(-30)];
    const { integrated } = measureLoudness({ sampleRate: rate, channels });
    expect(Math.abs(integrated - -23)).toBeLessThanOrEqual(0.1);
    expect(Math.abs(integrated - -23.0163)).toBeLessThanOrEqual(0.01);
  });

  test('case 9: short-term stays at -23 when the tone changes within its window', () => {
    const parts = Array.from(
      { length: 5 },
      () =>
        [
          [-20, 1.34],
          [-30, 1.66],
        ] as const,
    ).flat();
    const { maxShortTerm } = measureLoudnessInFull(stereo(sine(parts)));
    expect(Math.abs(maxShortTerm - -23)).toBeLessThanOrEqual(0.1);
    expect(Math.abs(maxShortTerm - -22.9863)).toBeLessThanOrEqual(0.01);
  });

  test('case 10: a tone of 3 s reaches -23 short-term wherever it begins', () => {
    for (let i = 1; i <= 20; i++) {
      const signal = stereo(
        sine([
          [silent, 0.15 * i],
          [-23, 3],
          [silent, 1],
        ]),
      );
      expect(Math.abs(measureLoudnessInFull(signal).maxShortTerm - -23)).toBeLessThanOrEqual(0.1);
    }
  });

  test('case 12: momentary stays at -23 when the tone changes within its window', () => {
    const parts = Array.from(
      { length: 25 },
      () =>
        [
          [-20, 0.18],
          [-30, 0.22],
        ] as const,
    ).flat();
    const { maxMomentary } = measureLoudnessInFull(stereo(sine(parts)));
    expect(Math.abs(maxMomentary - -23)).toBeLessThanOrEqual(0.1);
  });

  test('case 13: a tone of 0.4 s reaches -23 momentary wherever it begins', () => {
    for (let i = 1; i <= 20; i++) {
      const signal = stereo(
        sine([
          [silent, 0.02 * i],
          [-23, 0.4],
          [silent, 1],
        ]),
      );
      expect(Math.abs(measureLoudnessInFull(signal).maxMomentary - -23)).toBeLessThanOrEqual(0.1);
    }
  });

  /** A tone with a fade of 100 ms at either end: a hard edge rings higher than the tone. */
  function tone(divisor: number, amplitude: number, degrees: number, sampleRate = rate): Audio {
    const length = sampleRate;
    const fade = sampleRate / 10;
    const channel = Float32Array.from({ length }, (_, i) => {
      const edge = Math.min(1, i / fade, (length - 1 - i) / fade);
      return edge * amplitude * Math.sin((2 * Math.PI * i) / divisor + (degrees * Math.PI) / 180);
    });
    return { sampleRate, channels: [channel] };
  }

  test.each([
    ['15', 4, 0.5, 0, -6],
    ['16', 4, 0.5, 45, -6],
    ['17', 6, 0.5, 60, -6],
    ['18', 8, 0.5, 67.5, -6],
    ['19', 4, 1.41, 45, 3],
  ])('case %s: true peak within +0.2 / -0.4 dB', (_, divisor, amplitude, degrees, stated) => {
    for (const sampleRate of [44100, 48000, 96000]) {
      const { truePeak } = measureLoudness(tone(divisor, amplitude, degrees, sampleRate));
      expect(truePeak - stated).toBeLessThanOrEqual(0.2);
      expect(truePeak - stated).toBeGreaterThanOrEqual(-0.4);
    }
  });
});

test.each<[readonly (readonly [number, number])[], number]>([
  [
    [
      [-20, 20],
      [-30, 20],
    ],
    10,
  ],
  [
    [
      [-20, 20],
      [-15, 20],
    ],
    5,
  ],
  [
    [
      [-40, 20],
      [-20, 20],
    ],
    20,
  ],
  [
    [
      [-50, 20],
      [-35, 20],
      [-20, 20],
      [-35, 20],
      [-50, 20],
    ],
    15,
  ],
])('EBU Tech 3342 signal %j has a range of %d LU', (parts, stated) => {
  expect(Math.abs(measureLoudness(stereo(sine(parts))).range - stated)).toBeLessThanOrEqual(0.05);
});

const ffmpeg = spawnSync('ffmpeg', ['-version']).status === 0;
test.runIf(ffmpeg)('agrees with ffmpeg on music-like noise, when ffmpeg is installed', () => {
  const random = makeRandom(9);
  let low = 0;
  const channels = [0, 1].map(() =>
    Float32Array.from({ length: rate * 20 }, (_, i) => {
      low += 0.1 * (random() * 2 - 1 - low);
      return low * (0.3 + 0.6 * Math.sin(i / 30000) ** 2) + 0.02 * (random() * 2 - 1);
    }),
  );
  const ours = measureLoudness({ sampleRate: rate, channels });
  const run = spawnSync(
    'ffmpeg',
    ['-hide_banner', '-nostats', '-i', 'pipe:0', '-af', 'ebur128=peak=true', '-f', 'null', '-'],
    { input: writeWav({ sampleRate: rate, channels }, { bits: '32f' }) },
  );
  const summary = run.stderr.toString().split('Summary:')[1];
  const figure = (name: RegExp) => Number(name.exec(summary)?.[1]);
  expect(Math.abs(ours.integrated - figure(/I:\s+(-?[\d.]+)/))).toBeLessThanOrEqual(0.1);
  expect(Math.abs(ours.range - figure(/LRA:\s+(-?[\d.]+)/))).toBeLessThanOrEqual(0.2);
  expect(Math.abs(ours.truePeak - figure(/Peak:\s+(-?[\d.]+)/))).toBeLessThanOrEqual(0.3);
});
