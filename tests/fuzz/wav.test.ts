import fc from 'fast-check';
import { expect, test } from 'vitest';
import { InputError } from '../../shared/math/input-error.ts';
import { readWav } from '../../shared/take/wav-read.ts';
import { writeWav } from '../../shared/take/wav-write.ts';

/** Whatever the bytes are: a sound recording comes out, or one clear sentence, and nothing else. */
function readsOrRefuses(bytes: Uint8Array): void {
  try {
    const { audio } = readWav(bytes, 'x.wav');
    expect(audio.channels.length).toBeGreaterThan(0);
    for (const channel of audio.channels) {
      expect(channel.length).toBe(audio.channels[0].length);
      expect(channel.length).toBeGreaterThan(0);
      expect(channel.every(Number.isFinite)).toBe(true);
    }
  } catch (error) {
    expect(error).toBeInstanceOf(InputError);
    expect((error as Error).message).toMatch(/^[^\n]+\.$/);
  }
}

const good = (['16', '24', '32f'] as const).map((bits) =>
  writeWav(
    {
      sampleRate: 44100,
      channels: [0, 1, 2].map((c) =>
        Float32Array.from({ length: 40 }, (_, i) => Math.sin(i + c) / 2),
      ),
    },
    {
      bits,
      chunks: [
        { id: 'bext', data: new Uint8Array(30) },
        { id: 'LIST', data: new Uint8Array(7) },
      ],
    },
  ),
);

test('any bytes', () => {
  fc.assert(fc.property(fc.uint8Array({ maxLength: 300 }), readsOrRefuses), {
    seed: 1,
    numRuns: 500,
  });
});

test('a good file with some bytes changed', () => {
  const changes = fc.array(fc.tuple(fc.nat(400), fc.integer({ min: 0, max: 255 })), {
    minLength: 1,
    maxLength: 6,
  });
  fc.assert(
    fc.property(fc.constantFrom(...good), changes, (file, list) => {
      const bytes = file.slice();
      for (const [at, value] of list) bytes[at % bytes.length] = value;
      readsOrRefuses(bytes);
    }),
    { seed: 2, numRuns: 3000 },
  );
});

test('a good file cut off anywhere, or with more behind it', () => {
  for (const file of good)
    for (let length = 0; length <= file.length; length++) readsOrRefuses(file.subarray(0, length));
  fc.assert(
    fc.property(fc.constantFrom(...good), fc.uint8Array({ maxLength: 60 }), (file, more) => {
      const bytes = new Uint8Array([...file, ...more]);
      readsOrRefuses(bytes);
      // What follows the last chunk changes nothing that was read.
      expect(readWav(bytes, 'x').audio).toEqual(readWav(file, 'x').audio);
    }),
    { seed: 3, numRuns: 200 },
  );
});

test('random headers with every field its own', () => {
  const u32 = fc.oneof(
    fc.nat(200),
    fc.constantFrom(0, 0x7fffffff, 0xffffffff, 0xfffffff0),
    fc.nat(),
  );
  fc.assert(
    fc.property(
      fc.constantFrom('RIFF', 'RF64', 'BW64'),
      fc.constantFrom(1, 3, 2, 0xfffe),
      fc.constantFrom(0, 1, 2, 8, 9, 65535),
      fc.constantFrom(0, 7999, 8000, 44100, 192000, 192001),
      fc.constantFrom(0, 1, 2, 4, 6, 8, 12, 16, 64),
      u32,
      u32,
      fc.uint8Array({ maxLength: 100 }),
      (riff, tag, channels, rate, align, riffSize, dataSize, sound) => {
        const bytes = new Uint8Array(44 + sound.length);
        const view = new DataView(bytes.buffer);
        const put = (at: number, text: string) =>
          bytes.set(
            Array.from(text, (c) => c.charCodeAt(0)),
            at,
          );
        put(0, riff);
        view.setUint32(4, riffSize, true);
        put(8, 'WAVEfmt ');
        view.setUint32(16, 16, true);
        view.setUint16(20, tag, true);
        view.setUint16(22, channels, true);
        view.setUint32(24, rate, true);
        view.setUint16(32, align, true);
        put(36, 'data');
        view.setUint32(40, dataSize, true);
        bytes.set(sound, 44);
        readsOrRefuses(bytes);
      },
    ),
    { seed: 4, numRuns: 3000 },
  );
});
