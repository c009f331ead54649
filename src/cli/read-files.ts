import { fstatSync, openSync, readSync } from 'node:fs';
import { InputError } from '../../shared/math/input-error.ts';
import { type Audio, lengthOf } from '../../shared/take/audio.ts';
import { type ByteSource, sourceOf } from '../../shared/take/byte-source.ts';
import type { WavFile } from '../../shared/take/wav-read.ts';
import { readAnyRecording } from './decoders.ts';

/** A recording read from disk. */
export interface AudioFile extends WavFile {
  readonly path: string;
}

const reasons: Readonly<Record<string, string>> = {
  ENOENT: 'there is no such file; check the name',
  EISDIR: 'it is a folder; name a file',
  ENAMETOOLONG: 'its name is too long; check it',
  EACCES: 'it may not be read; check its permissions',
};

function cannotRead(path: string, error: unknown): InputError {
  const { code, message } = error as NodeJS.ErrnoException;
  return new InputError(`${path} can't be read: ${reasons[code ?? ''] ?? message}.`);
}

/**
 * A file to be read where it is wanted; its handle stays open as long as the process lives. What is no
 * plain file (a pipe) is read to its end. Throws InputError.
 */
export function openSource(path: string): ByteSource {
  try {
    const file = openSync(path, 'r');
    const stat = fstatSync(file);
    if (stat.isDirectory()) throw Object.assign(new Error(), { code: 'EISDIR' });
    if (!stat.isFile()) return sourceOf(readStream(file));
    const read = (at: number, length: number, room?: Uint8Array) => {
      const bytes =
        room && room.length >= length ? room.subarray(0, length) : new Uint8Array(length);
      // One read of Node takes less than 2 GiB.
      for (let done = 0; done < length; ) {
        const got = readSync(file, bytes, done, Math.min(length - done, 1 << 28), at + done);
        if (got === 0) throw new InputError(`${path} has shrunk while it was read; try again.`);
        done += got;
      }
      return bytes;
    };
    return { length: stat.size, read };
  } catch (error) {
    throw cannotRead(path, error);
  }
}

/** A whole file. Throws InputError. */
export function readBytes(path: string): Uint8Array {
  const source = openSource(path);
  try {
    return source.read(0, source.length);
  } catch (error) {
    throw error instanceof InputError ? error : cannotRead(path, error);
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
export async function readAudio(path: string): Promise<AudioFile> {
  return { ...(await readAnyRecording(openSource(path), path)), path };
}

/** Reads parts of one performance, which share rate and length. Throws InputError where they don't. */
export async function readParts(paths: readonly string[]): Promise<AudioFile[]> {
  const files: AudioFile[] = [];
  for (const path of paths) files.push(await readAudio(path));
  const [first] = files;
  const shape = (audio: Audio) => `${lengthOf(audio)} samples at ${audio.sampleRate} Hz`;
  for (const file of files)
    if (shape(file.audio) !== shape(first.audio))
      throw new InputError(
        `${file.path} has ${shape(file.audio)}, ${first.path} has ${shape(first.audio)}; parts of one performance must match, so export them alike.`,
      );
  return files;
}
