import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { InputError } from '../../shared/math/input-error.ts';
import { makeRandom } from '../../shared/math/random.ts';
import type { Audio } from '../../shared/take/audio.ts';
import { readWav } from '../../shared/take/wav-read.ts';
import { bitsLike, type WavBits, writeWav } from '../../shared/take/wav-write.ts';

const letters = (text: string) => Array.from(text, (c) => c.charCodeAt(0));
const u16 = (v: number) => [v & 255, (v >> 8) & 255];
const u32 = (v: number) => [...u16(v & 0xffff), ...u16(v >>> 16)];

/** A WAV file by hand, so that the reader is not checked against the writer alone. */
function handmade(options: {
  tag?: number;
  channels?: number;
  rate?: number;
  bits?: number;
  data: number[];
  dataSize?: number;
  riffSize?: number;
  before?: number[];
  after?: number[];
}): Uint8Array {
  const { tag = 1, channels = 1, rate = 44100, bits = 16, data, before = [], after = [] } = options;
  const width = bits / 8;
  const body = [
    ...letters('WAVE'),
    ...letters('fmt '),
    ...u32(16),
    ...u16(tag),
    ...u16(channels),
    ...u32(rate),
    ...u32(rate * channels * width),
    ...u16(channels * width),
    ...u16(bits),
    ...before,
    ...letters('data'),
    ...u32(options.dataSize ?? data.length),
    ...data,
    ...(data.length % 2 ? [0] : []),
    ...after,
  ];
  return Uint8Array.from([...letters('RIFF'), ...u32(options.riffSize ?? body.length), ...body]);
}

function noise(channels: number, length: number, seed: number, rate = 44100): Audio {
  const random = makeRandom(seed);
  return {
    sampleRate: rate,
    channels: Array.from({ length: channels }, () =>
      Float32Array.from({ length }, () => random() * 2 - 1),
    ),
  };
}

describe('reading', () => {
  test('scales each integer width by its own full scale', () => {
    expect([
      ...readWav(handmade({ bits: 8, data: [0, 128, 255, 64] }), 'a').audio.channels[0],
    ]).toEqual([-1, 0, 127 / 128, -0.5]);
    const sixteen = readWav(handmade({ data: [0, 0x80, 0xff, 0x7f, 1, 0] }), 'a');
    expect([...sixteen.audio.channels[0]]).toEqual([-1, 32767 / 32768, 1 / 32768]);
    const two = [0, 0, 0x80, 0xff, 0xff, 0x7f, 1, 0, 0, 0xff, 0xff, 0xff];
    const twentyFour = readWav(handmade({ bits: 24, channels: 2, data: two }), 'a');
    expect(twentyFour.audio.channels.map((c) => [...c])).toEqual([
      [-1, 2 ** -23],
      [8388607 / 8388608, -(2 ** -23)],
    ]);
    const thirtyTwo = readWav(handmade({ bits: 32, data: [0, 0, 0, 0x80, 0, 0, 0, 0x40] }), 'a');
    expect([...thirtyTwo.audio.channels[0]]).toEqual([-1, 0.5]);
    expect(thirtyTwo).toMatchObject({ bits: 32, float: false });
  });

  test('reads 64-bit floats, and samples beyond full scale as they are', () => {
    const values = new Float64Array([0.25, -3.5, 0.1]);
    const file = handmade({ tag: 3, bits: 64, data: [...new Uint8Array(values.buffer)] });
    expect([...readWav(file, 'a').audio.channels[0]]).toEqual([0.25, -3.5, Math.fround(0.1)]);
  });

  test('reads the sub-format of WAVE_FORMAT_EXTENSIBLE', () => {
    const body = [
      ...letters('WAVEfmt '),
      ...u32(40),
      ...u16(0xfffe),
      ...u16(2),
      ...u32(48000),
      ...u32(48000 * 8),
      ...u16(8),
      ...u16(32),
      ...u16(22),
      ...u16(32),
      ...u32(3),
      ...u16(3),
      ...[0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xaa, 0, 0x38, 0x9b, 0x71],
      ...letters('data'),
      ...u32(8),
      ...new Uint8Array(new Float32Array([0.5, -0.5]).buffer),
    ];
    const file = readWav(Uint8Array.from([...letters('RIFF'), ...u32(body.length), ...body]), 'a');
    expect(file).toMatchObject({ bits: 32, float: true, audio: { sampleRate: 48000 } });
    expect(file.audio.channels.map((c) => c[0])).toEqual([0.5, -0.5]);
  });

  test('takes 20 bits in a 24-bit container from the top', () => {
    const file = handmade({ bits: 24, data: [0, 0, 0x40] });
    file[34] = 20;
    expect(readWav(file, 'a').audio.channels[0][0]).toBe(0.5);
  });

  test('finds what comes after a chunk of odd size that its writer has not filled up', () => {
    const odd = [...letters('junk'), ...u32(3), 1, 2, 3];
    expect([...readWav(handmade({ data: [0, 0x40], before: odd }), 'a').audio.channels[0]]).toEqual(
      [0.5],
    );
  });

  test('passes over chunks of odd size before and after the sound', () => {
    const odd = [...letters('junk'), ...u32(3), 1, 2, 3, 0];
    const file = handmade({ data: [0, 0x40], before: odd, after: odd });
    expect([...readWav(file, 'a').audio.channels[0]]).toEqual([0.5]);
    expect([
      ...readWav(handmade({ bits: 8, data: [192], after: odd }), 'a').audio.channels[0],
    ]).toEqual([0.5]);
  });

  test('reads RF64, whose sizes stand in ds64 (EBU Tech 3306)', () => {
    const ds64 = [...letters('ds64'), ...u32(28), ...u32(80), ...u32(0), ...u32(4), ...u32(0)];
    ds64.push(...u32(2), ...u32(0), ...u32(0));
    const plain = handmade({
      data: [0, 0x40, 0, 0xc0],
      dataSize: 0xffffffff,
      riffSize: 0xffffffff,
    });
    const file = Uint8Array.from([
      ...letters('RF64'),
      ...plain.slice(4, 12),
      ...ds64,
      ...plain.slice(12),
      ...letters('tail'),
      ...u32(2),
      9,
      9,
    ]);
    expect([...readWav(file, 'a').audio.channels[0]]).toEqual([0.5, -0.5]);
  });

  test.each([
    [0, 0],
    [0xffffffff, 0xffffffff],
    [0x7ffff000, 0x7ffff024],
  ])(
    'a size left open by a streaming writer (%i) means: to the end of the file',
    (dataSize, riffSize) => {
      const file = handmade({ data: [0, 0x40, 0, 0xc0, 0x11, 0], dataSize, riffSize });
      expect(readWav(file.subarray(0, file.length - 1), 'a').audio.channels[0].length).toBe(2);
    },
  );

  const floats = (...values: number[]) => [...new Uint8Array(new Float32Array(values).buffer)];
  test.each<[string, Uint8Array, RegExp]>([
    ['nothing', new Uint8Array(0), /empty/],
    ['text', Uint8Array.from(letters('hello there, no sound')), /not a WAV file/],
    ['FLAC', Uint8Array.from(letters('fLaC....')), /FLAC/],
    [
      'cut off in the sound',
      handmade({ data: [1, 0, 2, 0], dataSize: 88200 }),
      /cut off.*1\.00 s.*0\.00 s/,
    ],
    ['cut off in the header', handmade({ data: [] }).subarray(0, 30), /format chunk of 10 bytes/],
    ['cut off before the sound', handmade({ data: [] }).subarray(0, 36), /no data chunk/],
    ['zero length', handmade({ data: [] }), /length is zero/],
    [
      'not a number',
      handmade({ tag: 3, bits: 32, data: floats(0, Number.NaN) }),
      /not a number at 0\.0000 s/,
    ],
    [
      'infinite',
      handmade({ tag: 3, bits: 32, data: floats(Number.NEGATIVE_INFINITY) }),
      /not a number/,
    ],
    ['compressed', handmade({ tag: 2, bits: 16, data: [0, 0] }), /compressed.*0x0002/],
    ['nine channels', handmade({ channels: 9, bits: 8, data: Array(9).fill(0) }), /9 channels/],
    ['no channel', handmade({ channels: 0, data: [0, 0] }), /0 channels/],
    ['too slow', handmade({ rate: 4000, data: [0, 0] }), /4000 Hz/],
    ['half floats', handmade({ tag: 3, bits: 16, data: [0, 0] }), /16-bit float/],
  ])('refuses a file that is %s in one clear sentence', (_, bytes, message) => {
    const read = () => readWav(bytes, 'x.wav');
    expect(read).toThrow(InputError);
    expect(read).toThrow(message);
    try {
      read();
    } catch (error) {
      expect((error as Error).message).toMatch(/^x\.wav [^\n]+\.$/);
    }
  });
});

describe('writing', () => {
  test.each<[WavBits, number]>([
    ['16', 16],
    ['24', 24],
    ['32f', 32],
  ])('what lies on the grid of %s comes back bit for bit, without dither', (bits, width) => {
    const full = 2 ** (Math.min(width, 24) - 1);
    const whole = fc.integer({ min: -full, max: full - 1 }).map((v) => v / full);
    fc.assert(
      fc.property(
        fc.integer({ min: 1, max: 8 }),
        fc.constantFrom(8000, 44100, 48000, 192000),
        fc.array(whole, { minLength: 1, maxLength: 50 }),
        (channels, sampleRate, values) => {
          const audio: Audio = {
            sampleRate,
            channels: Array.from({ length: channels }, (_, c) =>
              Float32Array.from(values, (v) => (c % 2 ? -v / 2 : v)).map(
                (v) => Math.round(v * full) / full + 0,
              ),
            ),
          };
          const again = readWav(writeWav(audio, { bits }), 'a');
          expect(again.bits).toBe(width);
          expect(again.audio).toEqual(audio);
          expect(bitsLike(again)).toBe(bits);
        },
      ),
      { seed: 11, numRuns: 60 },
    );
  });

  test('floats come back bit for bit, whatever they are', () => {
    const audio = noise(3, 500, 5);
    audio.channels[0][3] = 17.25;
    expect(readWav(writeWav(audio, { bits: '32f' }), 'a').audio).toEqual(audio);
  });

  test('full scale and beyond clips, and does not wrap', () => {
    const audio: Audio = { sampleRate: 44100, channels: [Float32Array.of(1, 1.5, -1, -1.5)] };
    for (const [bits, top] of [
      ['16', 32767 / 32768],
      ['24', 8388607 / 8388608],
    ] as const)
      expect([...readWav(writeWav(audio, { bits }), 'a').audio.channels[0]]).toEqual([
        top,
        top,
        -1,
        -1,
      ]);
  });

  test('dither is triangular: error of mean 0 and variance 1/4 LSB squared, free of the signal', () => {
    // Lipshitz, Wanderkooy and Vanderkooy, JAES 40(5), 1992: with TPDF dither of 2 LSB the total error
    // has variance LSB^2 / 4 (LSB^2 / 12 of rounding, LSB^2 / 6 of dither) whatever the input is.
    for (const level of [0.1, 0.35, 0.49]) {
      const length = 200_000;
      const audio: Audio = {
        sampleRate: 44100,
        channels: [new Float32Array(length).fill(level / 32768)],
      };
      const out = readWav(writeWav(audio, { bits: '16' }), 'a').audio.channels[0];
      const errors = out.map((v) => v * 32768 - level);
      const mean = errors.reduce((s, e) => s + e, 0) / length;
      const variance = errors.reduce((s, e) => s + (e - mean) ** 2, 0) / length;
      expect(Math.abs(mean)).toBeLessThan(5 * Math.sqrt(0.25 / length));
      expect(Math.abs(variance - 0.25)).toBeLessThan(0.005);
    }
  });

  test('the same input gives the same bytes, and channels do not share their dither', () => {
    const one = noise(1, 2000, 3).channels[0];
    const audio: Audio = { sampleRate: 44100, channels: [one, one] };
    const bytes = writeWav(audio, { bits: '16' });
    expect(writeWav(audio, { bits: '16' })).toEqual(bytes);
    const [left, right] = readWav(bytes, 'a').audio.channels;
    expect(left).not.toEqual(right);
  });

  test('chunks go in whole, bext before the sound and the rest after it', () => {
    const chunk = (id: string, size: number) => ({ id, data: new Uint8Array(size).fill(7) });
    const bytes = writeWav(noise(1, 3, 1), {
      bits: '24',
      chunks: [chunk('smpl', 5), chunk('bext', 3)],
    });
    const text = String.fromCharCode(...bytes);
    expect(text.indexOf('bext')).toBeLessThan(text.indexOf('data'));
    expect(text.indexOf('smpl')).toBeGreaterThan(text.indexOf('data'));
    expect(new DataView(bytes.buffer).getUint32(4, true)).toBe(bytes.length - 8);
    expect(bytes.length % 2).toBe(0);
    expect(readWav(bytes, 'a').audio.channels[0].length).toBe(3);
  });
});
