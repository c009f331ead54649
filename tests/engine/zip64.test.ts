import { spawnSync } from 'node:child_process';
import { closeSync, ftruncateSync, mkdtempSync, openSync, rmSync, writeSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { crc32 } from '../../shared/pack/crc32.ts';
import {
  directoryOf,
  dosMoment,
  localHeader,
  type PlacedFile,
} from '../../shared/pack/zip-layout.ts';
import { readZip } from '../../shared/pack/zip-read.ts';
import { writeZip, type ZipEntry } from '../../shared/pack/zip-write.ts';
import type { ByteSource } from '../../shared/take/byte-source.ts';

/*
 * Zip64 (PKWARE APPNOTE.TXT 6.3.10, 4.3.14 to 4.5.3): archives beyond 4 GiB and 65535 files. Long files
 * are holes, so that neither memory nor disk holds them.
 */
const date = '2026-03-04T05:06:08.000Z';
const unzip = spawnSync('unzip', ['-v']).error === undefined;

/** An archive of which only what is no silence is held. */
interface Sparse {
  readonly length: number;
  readonly parts: readonly { readonly at: number; readonly bytes: Uint8Array }[];
}

/** An archive of stored files, laid out as the writer does; of the long ones only their lengths are there. */
function laidOut(files: readonly { name: string; size: number; bytes?: Uint8Array }[]): Sparse {
  const parts: { at: number; bytes: Uint8Array }[] = [];
  const placed: PlacedFile[] = [];
  const moment = dosMoment(date);
  let at = 0;
  const put = (bytes: Uint8Array) => {
    parts.push({ at, bytes });
    at += bytes.length;
  };
  for (const { name, size, bytes } of files) {
    const crc = bytes ? crc32(bytes) : 0;
    const file = {
      name: new TextEncoder().encode(name),
      method: 0,
      crc,
      packed: size,
      size,
      offset: at,
    };
    placed.push(file);
    put(localHeader(file, moment));
    if (bytes) put(bytes);
    else at += size;
  }
  for (const bytes of directoryOf(placed, at, moment)) put(bytes);
  return { length: at, parts };
}

/** Reads it as if it were whole. */
function sourceOfSparse({ length, parts }: Sparse): ByteSource {
  return {
    length,
    read: (at, size) => {
      const out = new Uint8Array(size);
      for (const part of parts) {
        const from = Math.max(at, part.at);
        const until = Math.min(at + size, part.at + part.bytes.length);
        if (from < until) out.set(part.bytes.subarray(from - part.at, until - part.at), from - at);
      }
      return out;
    },
  };
}

/** Puts it on the disk, with holes, for a program of somebody else. */
function onDisk({ length, parts }: Sparse, look: (path: string) => void): void {
  const folder = mkdtempSync(join(tmpdir(), 'zip64-'));
  try {
    const path = join(folder, 'long.zip');
    const file = openSync(path, 'w');
    ftruncateSync(file, length);
    for (const { at, bytes } of parts)
      if (bytes.length > 0) writeSync(file, bytes, 0, bytes.length, at);
    closeSync(file);
    look(path);
  } finally {
    rmSync(folder, { recursive: true });
  }
}

const words = (text: string) => {
  const bytes = new TextEncoder().encode(text);
  return { size: bytes.length, bytes };
};

test('files of more than 4 GiB, and what lies behind them', () => {
  const sizes = [2 ** 32 - 2, 2 ** 32 - 1, 2 ** 32, 5_000_000_000];
  const archive = laidOut([
    { name: 'before.txt', ...words('before') },
    ...sizes.map((size, i) => ({ name: `long ${i}.wav`, size })),
    { name: 'behind.txt', ...words('behind four long files') },
  ]);
  const files = readZip(sourceOfSparse(archive), 'long.zip');
  sizes.forEach((size, i) => {
    expect(files.get(`long ${i}.wav`)?.size).toBe(size);
  });
  const text = (name: string) => new TextDecoder().decode(files.get(name)?.bytes());
  expect(text('before.txt')).toBe('before');
  expect(text('behind.txt')).toBe('behind four long files');

  if (unzip)
    onDisk(archive, (path) => {
      const listed = spawnSync('unzip', ['-l', path], { encoding: 'utf8' });
      for (const size of sizes) expect(listed.stdout).toContain(`${size}  2026`);
      const read = spawnSync('unzip', ['-p', path, 'before.txt', 'behind.txt'], {
        encoding: 'utf8',
      });
      expect(read.stdout).toBe('beforebehind four long files');
      expect(read.status).toBe(0);
    });
});

test('a directory that begins beyond 4 GiB though no file is long', () => {
  const size = 1_500_000_000;
  const archive = laidOut([
    ...[0, 1, 2].map((i) => ({ name: `${i}.wav`, size })),
    { name: 'behind.txt', ...words('behind') },
  ]);
  const files = readZip(sourceOfSparse(archive), 'long.zip');
  expect(new TextDecoder().decode(files.get('behind.txt')?.bytes())).toBe('behind');
  if (unzip)
    onDisk(archive, (path) => {
      const read = spawnSync('unzip', ['-p', path, 'behind.txt'], { encoding: 'utf8' });
      expect(read.stdout).toBe('behind');
    });
});

test('a short archive laid out this way is what the writer writes', async () => {
  const texts = ['one', 'two'].map((name) => ({ name, ...words(name) }));
  const entries = texts.map(({ name, bytes }): ZipEntry => ({ name, bytes: () => bytes }));
  const written: Uint8Array[] = [];
  for await (const bytes of writeZip(entries, { date })) written.push(bytes);
  const archive = laidOut(texts);
  const laid = sourceOfSparse(archive).read(0, archive.length);
  expect(Buffer.compare(Buffer.concat(written), laid)).toBe(0);
});

test('more than 65535 files', async () => {
  const count = 70_000;
  const byte = (i: number) => Uint8Array.of(i & 255, i >> 8);
  const entries = function* (): Generator<ZipEntry> {
    for (let i = 0; i < count; i++) yield { name: `s/${i}`, bytes: () => byte(i) };
  };
  const parts: Uint8Array[] = [];
  for await (const bytes of writeZip(entries(), { date })) parts.push(bytes);
  const whole = new Uint8Array(Buffer.concat(parts));
  const files = readZip({ length: whole.length, read: (at, n) => whole.subarray(at, at + n) }, 'a');
  expect(files.size).toBe(count);
  for (const i of [0, 65_534, 65_535, 69_999])
    expect(files.get(`s/${i}`)?.bytes()).toEqual(byte(i));

  if (unzip)
    onDisk({ length: whole.length, parts: [{ at: 0, bytes: whole }] }, (path) => {
      const tested = spawnSync('unzip', ['-tq', path], { encoding: 'utf8' });
      expect(tested.stdout).toMatch(/No errors detected/);
      const listed = spawnSync('zipinfo', ['-h', path], { encoding: 'utf8' });
      if (listed.error === undefined) expect(listed.stdout).toContain(`${count}`);
    });
});
