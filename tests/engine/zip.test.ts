import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { deflateRawSync, inflateRawSync } from 'node:zlib';
import fc from 'fast-check';
import { strToU8, unzipSync, zipSync } from 'fflate';
import { describe, expect, test } from 'vitest';
import { InputError } from '../../shared/math/input-error.ts';
import { crc32 } from '../../shared/pack/crc32.ts';
import { readProjectZip, writeProjectZip } from '../../shared/pack/project-zip.ts';
import { readZip } from '../../shared/pack/zip-read.ts';
import { writeZip, type ZipEntry } from '../../shared/pack/zip-write.ts';
import { sourceOf } from '../../shared/take/byte-source.ts';

const date = '2026-03-04T05:06:08.000Z';

async function whole(pieces: AsyncIterable<Uint8Array>): Promise<Uint8Array> {
  const parts: Uint8Array[] = [];
  for await (const piece of pieces) parts.push(piece);
  return new Uint8Array(Buffer.concat(parts));
}

const entries = (files: Readonly<Record<string, Uint8Array>>): ZipEntry[] =>
  Object.entries(files).map(([name, bytes]) => ({ name, bytes: () => bytes }));

const inflate = (bytes: Uint8Array, size: number) =>
  new Uint8Array(inflateRawSync(bytes, { maxOutputLength: Math.max(size, 1) }));

const files = fc.dictionary(
  fc.stringMatching(/^[a-zäß0-9 ]{1,12}(\/[a-z.]{1,8})?[a-z]$/),
  fc.uint8Array({ maxLength: 500 }),
  { maxKeys: 8 },
);

test('CRC-32 of "123456789" is CBF43926, the check value of its catalogue', () => {
  expect(crc32(strToU8('123456789'))).toBe(0xcbf43926);
  expect(crc32(new Uint8Array(0))).toBe(0);
});

describe('writing', () => {
  test('fflate (MIT) unpacks what we pack, stored and deflated', async () => {
    await fc.assert(
      fc.asyncProperty(files, fc.boolean(), async (content, deflated) => {
        const deflate = deflated ? (bytes: Uint8Array) => deflateRawSync(bytes) : undefined;
        const bytes = await whole(
          writeZip(entries(content), { date, ...(deflate && { deflate }) }),
        );
        const out = unzipSync(bytes);
        expect(Object.keys(out).sort()).toEqual(Object.keys(content).sort());
        for (const [name, data] of Object.entries(content))
          expect([...out[name]]).toEqual([...data]);
      }),
      { seed: 3, numRuns: 40 },
    );
  });

  test('the same files and date give the same bytes, and the date is stored', async () => {
    const content = { 'a.txt': strToU8('hello') };
    const one = await whole(writeZip(entries(content), { date }));
    expect(await whole(writeZip(entries(content), { date }))).toEqual(one);
    const view = new DataView(one.buffer);
    // APPNOTE.TXT 4.4.6: date is years from 1980, month, day; time is hours, minutes, two seconds.
    expect(view.getUint16(12, true)).toBe(((2026 - 1980) << 9) | (3 << 5) | 4);
    expect(view.getUint16(10, true)).toBe((5 << 11) | (6 << 5) | 4);
  });

  test('entries are made one after the other, when their turn comes', async () => {
    const log: string[] = [];
    const lazy: ZipEntry[] = ['a', 'b'].map((name) => ({
      name,
      bytes: () => {
        log.push(`make ${name}`);
        return strToU8(name);
      },
    }));
    for await (const piece of writeZip(lazy, { date }))
      if (piece.length === 1) log.push(`take ${String.fromCharCode(piece[0])}`);
    expect(log.filter((entry) => entry.startsWith('make'))).toEqual(['make a', 'make b']);
    expect(log.indexOf('take a')).toBeLessThan(log.indexOf('make b'));
  });

  const unzip = spawnSync('unzip', ['-v']).status === 0;
  test.runIf(unzip)('unzip finds no fault, when it is installed', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'unclicked-zip-'));
    try {
      const path = join(folder, 'a.zip');
      writeFileSync(
        path,
        await whole(
          writeZip(entries({ 'ä/b.bin': new Uint8Array(70000), c: strToU8('x') }), { date }),
        ),
      );
      expect(spawnSync('unzip', ['-tq', path]).status).toBe(0);
    } finally {
      rmSync(folder, { recursive: true });
    }
  });
});

describe('reading', () => {
  test('what fflate packs is read, deflated or stored', () => {
    fc.assert(
      fc.property(files, fc.constantFrom(0, 6), (content, level) => {
        const out = readZip(sourceOf(zipSync(content, { level: level as 0 | 6 })), 'a', inflate);
        expect([...out.keys()].sort()).toEqual(Object.keys(content).sort());
        for (const [name, data] of Object.entries(content))
          expect([...(out.get(name)?.bytes() ?? [])]).toEqual([...data]);
      }),
      { seed: 5, numRuns: 40 },
    );
  });

  test('a comment at the end does not hide the directory', () => {
    const bytes = zipSync({ a: strToU8('x') }, { comment: 'made elsewhere' });
    expect(readZip(sourceOf(bytes), 'a', inflate).size).toBe(1);
  });

  test('damage is noticed', async () => {
    const bytes = await whole(writeZip(entries({ 'a.txt': strToU8('hello') }), { date }));
    bytes[30 + 5] ^= 1;
    const read = () => readZip(sourceOf(bytes), 'x.zip').get('a.txt')?.bytes();
    expect(read).toThrow(InputError);
    expect(read).toThrow(/damaged at a\.txt/);
    expect(() => readZip(sourceOf(strToU8('no zip at all, but a text')), 'x.zip')).toThrow(
      InputError,
    );
  });
});

test('a long file goes through piece by piece, both ways', async () => {
  const random = Uint8Array.from({ length: 2_500_000 }, (_, i) => (i * i) >> 7);
  const first = await whole(writeZip(entries({ 'a.bin': random }), { date }));
  const file = readZip(sourceOf(first), 'a').get('a.bin');
  const parts = [...(file?.pieces() ?? [])];
  expect(parts.length).toBe(3);
  const bytes = () => {
    throw new Error('not as a whole');
  };
  const lazy: ZipEntry[] = [{ name: 'a.bin', bytes, pieces: () => file?.pieces() ?? [] }];
  expect(Buffer.compare(await whole(writeZip(lazy, { date })), first)).toBe(0);
  first[1_500_000] ^= 1;
  expect(() => [...(file?.pieces() ?? [])]).toThrow(/damaged at a\.bin/);
});

describe('project file', () => {
  const hash = 'ab'.repeat(32);
  const audio = [{ hash, bytes: () => Uint8Array.of(1, 2, 3) }];

  test('document and recordings come back, also from a folder packed again', async () => {
    const bytes = await whole(writeProjectZip('{"version":1}', audio, date));
    const { document, audio: found } = readProjectZip(sourceOf(bytes), 'a');
    expect(document).toEqual({ version: 1 });
    expect([...(found.get(hash)?.bytes() ?? [])]).toEqual([1, 2, 3]);
    const again = zipSync({
      'folder/project.json': strToU8('{"version":1}'),
      [`folder/audio/${hash}.wav`]: Uint8Array.of(4),
    });
    expect([
      ...(readProjectZip(sourceOf(again), 'a', inflate).audio.get(hash)?.bytes() ?? []),
    ]).toEqual([4]);
  });

  test('a recording used twice is stored once', async () => {
    const bytes = await whole(writeProjectZip('{}', [...audio, ...audio], date));
    expect(Object.keys(unzipSync(bytes)).length).toBe(2);
  });

  test.each([
    ['no document', { 'x.txt': strToU8('') }, /no project\.json/],
    ['a document that is no JSON', { 'project.json': strToU8('{') }, /not JSON/],
  ])('%s is a clear error', (_, content, message) => {
    const read = () => readProjectZip(sourceOf(zipSync(content)), 'x.zip', inflate);
    expect(read).toThrow(InputError);
    expect(read).toThrow(message);
  });
});
