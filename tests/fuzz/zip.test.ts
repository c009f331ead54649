import { inflateRawSync } from 'node:zlib';
import fc from 'fast-check';
import { zipSync } from 'fflate';
import { expect, test } from 'vitest';
import { InputError } from '../../shared/math/input-error.ts';
import { readProjectZip } from '../../shared/pack/project-zip.ts';
import { readZip } from '../../shared/pack/zip-read.ts';
import { sourceOf } from '../../shared/take/byte-source.ts';

const inflate = (bytes: Uint8Array, size: number) =>
  new Uint8Array(inflateRawSync(bytes, { maxOutputLength: Math.min(Math.max(size, 1), 1 << 20) }));

/** Every file of an archive, or one clear sentence, and nothing else. */
function readsOrRefuses(bytes: Uint8Array): void {
  try {
    for (const { bytes: content } of readZip(sourceOf(bytes), 'x.zip', inflate).values()) content();
    readProjectZip(sourceOf(bytes), 'x.zip', inflate);
  } catch (error) {
    expect(error).toBeInstanceOf(InputError);
    expect((error as Error).message).toMatch(/^[^\n]+\.$/);
  }
}

const text = new TextEncoder().encode('{ "version": 1, "take": {} }');
const good = ([0, 6] as const).map((level) =>
  zipSync({ 'project.json': text, [`audio/${'ab'.repeat(32)}.wav`]: text }, { level }),
);

test('any bytes', () => {
  fc.assert(fc.property(fc.uint8Array({ maxLength: 300 }), readsOrRefuses), {
    seed: 1,
    numRuns: 500,
  });
});

test('a good archive with some bytes changed, or cut off', () => {
  const changes = fc.array(fc.tuple(fc.nat(2000), fc.integer({ min: 0, max: 255 })), {
    minLength: 1,
    maxLength: 5,
  });
  fc.assert(
    fc.property(fc.constantFrom(...good), changes, (file, list) => {
      const bytes = file.slice();
      for (const [at, value] of list) bytes[at % bytes.length] = value;
      readsOrRefuses(bytes);
    }),
    { seed: 2, numRuns: 3000 },
  );
  for (const file of good)
    for (let length = 0; length <= file.length; length++) readsOrRefuses(file.subarray(0, length));
});

test('sizes that promise more than there is (Zip64 too)', () => {
  fc.assert(
    fc.property(
      fc.constantFrom(...good),
      fc.nat(22),
      fc.constantFrom(0xff, 0x7f, 0x80),
      (file, at, byte) => {
        const bytes = file.slice();
        // The end record, and the fields of the last directory entry.
        bytes[bytes.length - 1 - at] = byte;
        readsOrRefuses(bytes);
      },
    ),
    { seed: 3, numRuns: 300 },
  );
});
