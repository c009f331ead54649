import { closeSync, fstatSync, openSync, readSync } from 'node:fs';
import { basename } from 'node:path';
import { InputError } from '../../shared/math/input-error.ts';
import { type Audio, lengthOf } from '../../shared/take/audio.ts';
import { readWav, type WavFile } from '../../shared/take/wav-read.ts';

/** A recording read from disk. */
export interface AudioFile extends WavFile {
  readonly path: string;
  readonly name: string;
  readonly bytes: Uint8Array;
}

const reasons: Readonly<Record<string, string>> = {
  ENOENT: 'there is no such file; check the name',
  EISDIR: 'it is a folder; name a file',
  EACCES: 'it may not be read; check its permissions',
};

/** A whole file, also above the 2 GiB that one read of Node can take. Throws InputError. */
export function readBytes(path: string): Uint8Array {
  let file: number | null = null;
  try {
    file = openSync(path, 'r');
    const stat = fstatSync(file);
    if (stat.isDirectory()) throw Object.assign(new Error(), { code: 'EISDIR' });
    if (!stat.isFile()) return readStream(file);
    const bytes = new Uint8Array(stat.size);
    for (let at = 0; at < bytes.length; ) {
      const got = readSync(file, bytes, at, Math.min(bytes.length - at, 1 << 28), at);
      if (got === 0) return bytes.subarray(0, at);
      at += got;
    }
    return bytes;
  } catch (error) {
    const { code, message } = error as NodeJS.ErrnoException;
    throw new InputError(`${path} can't be read: ${reasons[code ?? ''] ?? message}.`);
  } finally {
    if (file !== null) closeSync(file);
  }
}

/** What a pipe or device gives till its end. */
function readStream(file: number): Uint8Array {
  const parts: Buffer[] = [];
  for (;;) {
    const part = Buffer.alloc(1 << 20);
    const got = readSync(file, part, 0, part.length, null);
    if (got === 0) return Buffer.concat(parts);
    parts.push(part.subarray(0, got));
  }
}

/** A text file as JSON. Throws InputError. */
export function readJson(path: string): unknown {
  const text = new TextDecoder().decode(readBytes(path));
  try {
    return JSON.parse(text);
  } catch (error) {
    throw new InputError(`${path} is not JSON (${(error as Error).message}); mend it.`);
  }
}

/** Reads and decodes a recording. Throws InputError. */
export function readAudio(path: string): AudioFile {
  const bytes = readBytes(path);
  return { ...readWav(bytes, path), path, name: basename(path), bytes };
}

/** Reads parts of one performance, which share rate and length. Throws InputError where they don't. */
export function readParts(paths: readonly string[]): AudioFile[] {
  const files = paths.map(readAudio);
  const [first] = files;
  const shape = (audio: Audio) => `${lengthOf(audio)} samples at ${audio.sampleRate} Hz`;
  for (const file of files)
    if (shape(file.audio) !== shape(first.audio))
      throw new InputError(
        `${file.path} has ${shape(file.audio)}, ${first.path} has ${shape(first.audio)}; parts of one performance must match, so export them alike.`,
      );
  return files;
}
