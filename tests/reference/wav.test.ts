import { spawnSync } from 'node:child_process';
import { describe, expect, test } from 'vitest';
import { WaveFile } from 'wavefile';
import { makeRandom } from '../../shared/math/random.ts';
import type { Audio } from '../../shared/take/audio.ts';
import { readWav } from '../../shared/take/wav-read.ts';
import { type WavBits, writeWav } from '../../shared/take/wav-write.ts';

function noise(channels: number, length: number, sampleRate: number): Audio {
  const random = makeRandom(channels * 7 + length);
  return {
    sampleRate,
    channels: Array.from({ length: channels }, () =>
      Float32Array.from({ length }, () => random() * 1.9 - 0.95),
    ),
  };
}

/** Samples of one channel as the wavefile library (MIT) reads them, scaled to full scale 1. */
function outside(bytes: Uint8Array): { rate: number; channels: Float64Array[] } {
  const file = new WaveFile(bytes);
  const fmt = file.fmt as { numChannels: number; sampleRate: number };
  const depth = file.bitDepth;
  const full = depth === '32f' || depth === '64' ? 1 : 2 ** (Number(depth) - 1);
  const read = file.getSamples(false, Float64Array) as unknown as Float64Array | Float64Array[];
  const channels = fmt.numChannels === 1 ? [read as Float64Array] : (read as Float64Array[]);
  return { rate: fmt.sampleRate, channels: channels.map((c) => c.map((v) => v / full)) };
}

describe('against the wavefile library', () => {
  test.each<[WavBits, number, number]>([
    ['16', 1, 44100],
    ['16', 2, 48000],
    ['24', 2, 96000],
    ['24', 6, 44100],
    ['32f', 1, 192000],
    ['32f', 2, 8000],
    // Float in WAVE_FORMAT_EXTENSIBLE is read by sox and ffmpeg below; this library takes it for integers.
    ['16', 8, 8000],
  ])('what we write as %s with %i channels at %i Hz it reads alike', (bits, channels, rate) => {
    const bytes = writeWav(noise(channels, 501, rate), { bits });
    const ours = readWav(bytes, 'a').audio;
    const theirs = outside(bytes);
    expect(theirs.rate).toBe(rate);
    expect(theirs.channels.map((c) => [...c])).toEqual(ours.channels.map((c) => [...c]));
  });

  test.each(['8', '16', '24', '32', '32f', '64'])(
    'what it writes with %s bits we read alike',
    (depth) => {
      for (const channels of [1, 2, 5]) {
        const float = depth === '32f' || depth === '64';
        const full = float ? 1 : 2 ** (Number(depth) - 1);
        const samples = noise(channels, 300, 44100).channels.map((c) =>
          Array.from(c, (v) => {
            if (float) return v;
            // Eight bits are stored unsigned.
            return depth === '8' ? Math.round(v * 127) + 128 : Math.round(v * (full - 1));
          }),
        );
        const file = new WaveFile();
        file.fromScratch(channels, 44100, depth, channels === 1 ? samples[0] : samples);
        const { audio, bits } = readWav(file.toBuffer(), 'a');
        expect(bits).toBe(Number.parseInt(depth, 10));
        audio.channels.forEach((channel, c) => {
          const expected = samples[c].map((v) =>
            Math.fround(depth === '8' ? (v - 128) / 128 : v / full),
          );
          expect([...channel]).toEqual(expected);
        });
      }
    },
  );

  test('RF64 made by it is read', () => {
    const file = new WaveFile();
    const samples = [
      [0, 16384],
      [-32768, 1],
    ];
    file.fromScratch(2, 48000, '16', samples, { container: 'RF64' });
    expect(file.container).toBe('RF64');
    const { audio } = readWav(file.toBuffer(), 'a');
    expect([...audio.channels[0]]).toEqual([0, 0.5]);
    expect([...audio.channels[1]]).toEqual([-1, 1 / 32768]);
  });
});

test('bytes follow the RIFF text (Multimedia Programming Interface and Data Specifications 1.0, 1991)', () => {
  const bytes = writeWav(
    { sampleRate: 44100, channels: [Float32Array.of(0.5), Float32Array.of(-1)] },
    { bits: '16' },
  );
  const hex = Array.from(bytes, (b) => b.toString(16).padStart(2, '0')).join(' ');
  expect(hex).toBe(
    [
      '52 49 46 46 28 00 00 00 57 41 56 45',
      '66 6d 74 20 10 00 00 00 01 00 02 00 44 ac 00 00 10 b1 02 00 04 00 10 00',
      '64 61 74 61 04 00 00 00 00 40 00 80',
    ].join(' '),
  );
});

const has = (tool: string) => spawnSync(tool, ['--version']).error === undefined;

test.runIf(has('sox'))('sox reads what we write, when sox is installed', () => {
  for (const [bits, width] of [
    ['16', 2],
    ['24', 2],
    ['32f', 2],
    ['32f', 6],
  ] as const) {
    const audio = noise(width, 4000, 48000);
    const bytes = writeWav(audio, { bits });
    const run = spawnSync(
      'sox',
      ['-t', 'wav', '-', '-t', 'raw', '-e', 'floating-point', '-b', '32', '-L', '-'],
      { input: bytes },
    );
    const samples = new Float32Array(run.stdout.buffer.slice(run.stdout.byteOffset));
    const ours = readWav(bytes, 'a').audio;
    expect(samples.length).toBe(4000 * width);
    ours.channels.forEach((channel, c) => {
      for (let i = 0; i < 4000; i += 97)
        expect(Math.abs(samples[width * i + c] - channel[i])).toBeLessThan(1e-7);
    });
  }
});

test.runIf(has('ffmpeg'))('what ffmpeg and sox stream with no size is read whole', () => {
  const source = writeWav(noise(1, 44100, 44100), { bits: '16' });
  const run = spawnSync(
    'ffmpeg',
    ['-hide_banner', '-i', 'pipe:0', '-f', 'wav', '-c:a', 'pcm_s16le', 'pipe:1'],
    { input: source },
  );
  expect(readWav(run.stdout, 'a').audio).toEqual(readWav(source, 'b').audio);
});
