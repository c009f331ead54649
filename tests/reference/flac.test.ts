import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { deflateRawSync } from 'node:zlib';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { InputError } from '../../shared/math/input-error.ts';
import { readFlac } from '../../shared/take/flac-read.ts';
import { readRecording } from '../../shared/take/recording-read.ts';
import { writeWav } from '../../shared/take/wav-write.ts';
import { melody } from './flac-source.ts';

const file = (name: string) =>
  new Uint8Array(
    readFileSync(fileURLToPath(new URL(`../data/flac/${name}.flac`, import.meta.url))),
  );

test.each([
  ['stereo-16-level-0', 2, 16],
  ['stereo-16-level-8', 2, 16],
  ['stereo-16-level-12', 2, 16],
  ['stereo-16-other-encoder', 2, 16],
  ['mono-24-level-5', 1, 24],
])('%s, made by another program, comes back bit for bit', (name, channels, bits) => {
  const { audio, ...stored } = readFlac(file(name), name);
  const source = melody(channels, bits);
  expect(stored).toEqual({ bits, float: false });
  expect(audio.sampleRate).toBe(44100);
  expect(audio.channels.length).toBe(channels);
  audio.channels.forEach((channel, c) => {
    expect(channel.length).toBe(source.channels[c].length);
    let different = 0;
    channel.forEach((v, i) => {
      if (v !== source.channels[c][i]) different++;
    });
    expect(different).toBe(0);
  });
});

test('the smallest stream of RFC 9639, appendix D.1: the MD5 sum that it carries is that of its samples', () => {
  const hex =
    '664c614380000022100010000000' +
    '0f00000f0ac442f0000000013e84b41807dc690307586a3dad1a2e0f' +
    'fff869180000bf0358fd03128baa9a';
  const bytes = Uint8Array.from(hex.match(/../g) ?? [], (pair) => Number.parseInt(pair, 16));
  const { audio } = readFlac(bytes, 'a');
  const samples = Int16Array.from(audio.channels, (channel) => channel[0] * 32768);
  expect([...samples]).toEqual([25588, 10416]);
  const sum = createHash('md5').update(new Uint8Array(samples.buffer)).digest('hex');
  expect(sum).toBe(hex.slice(52, 84));
});

describe('damage', () => {
  const good = file('mono-24-level-5');
  const refusal = (bytes: Uint8Array) => {
    try {
      readFlac(bytes, 'x.flac');
    } catch (error) {
      expect(error).toBeInstanceOf(InputError);
      expect((error as Error).message).toMatch(/^x\.flac [^\n]+\.$/);
      return (error as Error).message;
    }
    return null;
  };

  test('a cut-off stream says how much is there', () => {
    expect(refusal(good.subarray(0, 30000))).toMatch(/cut off: it promises 0\.27 s/);
    expect(refusal(good.subarray(0, 20))).toMatch(/damaged/);
  });

  test('any byte of the sound that is changed is noticed', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 9000, max: good.length - 1 }),
        fc.integer({ min: 1, max: 255 }),
        (at, by) => {
          const bytes = good.slice();
          bytes[at] ^= by;
          expect(refusal(bytes)).not.toBeNull();
        },
      ),
      { seed: 1, numRuns: 150 },
    );
  });

  test('any bytes behind the first four', () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 200 }), (tail) => {
        refusal(Uint8Array.from([0x66, 0x4c, 0x61, 0x43, ...tail]));
      }),
      { seed: 2, numRuns: 1000 },
    );
  });
});

test('a recording is read by what it holds, not by its name', () => {
  const flac = readRecording(file('stereo-16-level-8'), 'a.wav').audio;
  expect(readRecording(writeWav(flac, { bits: '16' }), 'a.flac').audio).toEqual(flac);
  expect(() => readRecording(deflateRawSync(new Uint8Array(100)), 'a.mp3')).toThrow(InputError);
});
