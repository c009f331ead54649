import {
  accessSync,
  closeSync,
  existsSync,
  constants as fileConstants,
  mkdirSync,
  openSync,
  renameSync,
  rmSync,
  statSync,
  writeSync,
} from 'node:fs';
import { constants } from 'node:os';
import { basename, dirname, join } from 'node:path';

/** How long work goes on before signals are looked for, in milliseconds. */
const listening = 50;

/** A file to be written: its bytes at once or piece by piece. */
export interface Output {
  readonly path: string;
  readonly bytes: Uint8Array | string | AsyncIterable<Uint8Array>;
}

const reasons: Readonly<Record<string, string>> = {
  ENOENT: 'its folder does not exist; make it first',
  ENOTDIR: 'a part of its path is no folder; choose another place',
  EISDIR: 'it is a folder; name a file',
  EACCES: 'you may not write there; choose another place or change its permissions',
  EPERM: 'you may not write there; choose another place or change its permissions',
  EROFS: 'that disk is read-only; choose another place',
  ENOSPC: 'the disk is full; make room',
};

function cannotWrite(path: string, error: unknown): Error {
  const { code, message } = error as NodeJS.ErrnoException;
  return new Error(`${path} can't be written: ${reasons[code ?? ''] ?? message}.`);
}

/**
 * Whether a file could be written, asked before long work begins. Throws Error in one sentence where a
 * file is already there (and `force` is not), or its folder is missing or closed.
 */
export function checkWritable(path: string, force: boolean): void {
  try {
    if (!statSync(dirname(path)).isDirectory())
      throw Object.assign(new Error(), { code: 'ENOTDIR' });
    accessSync(dirname(path), fileConstants.W_OK);
    if (existsSync(path) && statSync(path).isDirectory())
      throw Object.assign(new Error(), { code: 'EISDIR' });
  } catch (error) {
    throw cannotWrite(path, error);
  }
  if (!force && existsSync(path))
    throw new Error(`${path} is there already; name another file or add --force.`);
}

/** Makes a folder and those above it. Throws Error in one sentence. */
export function makeFolder(path: string): void {
  try {
    mkdirSync(path, { recursive: true });
  } catch (error) {
    const taken = (error as NodeJS.ErrnoException).code === 'EEXIST';
    throw taken
      ? new Error(`${path} is a file, but must be a folder; name another place.`)
      : cannotWrite(path, error);
  }
}

/**
 * Writes files whole or not at all: all of them beside their places first, then each is moved into its
 * place. When anything fails, or the process is told to stop (SIGINT, SIGTERM), none is left behind half.
 */
export async function writeFiles(outputs: readonly Output[], force: boolean): Promise<void> {
  for (const { path } of outputs) checkWritable(path, force);
  const waiting: { part: string; path: string }[] = [];
  const clean = () => {
    for (const { part } of waiting) rmSync(part, { force: true });
  };
  const stop = (signal: NodeJS.Signals) => {
    clean();
    // By convention of shells: 128 and the signal's number.
    process.exit(128 + constants.signals[signal]);
  };
  process.once('SIGINT', stop).once('SIGTERM', stop);
  try {
    for (const { path, bytes } of outputs) {
      const part = join(dirname(path), `.${basename(path)}.${process.pid}.part`);
      waiting.push({ part, path });
      await writeWhole(part, path, bytes);
    }
    for (const { part, path } of waiting) {
      try {
        renameSync(part, path);
      } catch (error) {
        throw cannotWrite(path, error);
      }
    }
  } finally {
    process.off('SIGINT', stop).off('SIGTERM', stop);
    clean();
  }
}

async function writeWhole(part: string, path: string, bytes: Output['bytes']): Promise<void> {
  const pieces =
    typeof bytes === 'string'
      ? [new TextEncoder().encode(bytes)]
      : bytes instanceof Uint8Array
        ? [bytes]
        : bytes;
  let file: number;
  try {
    file = openSync(part, 'w');
  } catch (error) {
    throw cannotWrite(path, error);
  }
  try {
    let turned = performance.now();
    for await (const piece of pieces) {
      // Making the pieces leaves no room to hear a signal; it is taken now and then.
      if (performance.now() - turned > listening) {
        await new Promise((resolve) => setImmediate(resolve));
        turned = performance.now();
      }
      for (let at = 0; at < piece.length; ) {
        try {
          at += writeSync(file, piece, at, Math.min(piece.length - at, 1 << 28));
        } catch (error) {
          throw cannotWrite(path, error);
        }
      }
    }
  } finally {
    closeSync(file);
  }
}
