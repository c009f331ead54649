import {
  accessSync,
  closeSync,
  existsSync,
  constants as fileConstants,
  mkdirSync,
  openSync,
  readdirSync,
  renameSync,
  rmdirSync,
  rmSync,
  statSync,
  writeSync,
} from 'node:fs';
import { constants } from 'node:os';
import { dirname, join, resolve } from 'node:path';
import { cannotWrite, noPlainFile } from './write-reasons.ts';

/** How long work goes on before signals are looked for, in milliseconds. */
const listening = 50;

/** Told by a key, by another program, and by a terminal that is closed. */
const stops = ['SIGINT', 'SIGTERM', 'SIGHUP'] as const;

/** A file to be written: its bytes at once or piece by piece. */
export interface Output {
  readonly path: string;
  readonly bytes: Uint8Array | string | AsyncIterable<Uint8Array>;
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
    // What ends like a folder is none even where it is not there yet. A name that is too long is told here.
    const there = statSync(path, { throwIfNoEntry: false });
    if (/[/\\]$/.test(path)) throw Object.assign(new Error(), { code: 'EISDIR' });
    if (there) {
      if (there.isDirectory()) throw Object.assign(new Error(), { code: 'EISDIR' });
      // A file would be moved into its place.
      if (!there.isFile()) throw Object.assign(new Error(), { code: noPlainFile });
    }
  } catch (error) {
    throw cannotWrite(path, error);
  }
  if (!force && existsSync(path))
    throw new Error(`${path} is there already; name another file or add --force.`);
}

/**
 * The same for files of one folder, which is made with them: it need not be there, but where it would
 * stand one must be able to make it.
 */
export function checkWritableIn(folder: string, paths: readonly string[], force: boolean): void {
  let there = resolve(folder);
  while (!existsSync(there) && dirname(there) !== there) there = dirname(there);
  if (!statSync(there).isDirectory()) {
    const file = there === resolve(folder) ? folder : there;
    throw new Error(`${file} is a file, but must be a folder; name another place.`);
  }
  try {
    accessSync(there, fileConstants.W_OK);
  } catch (error) {
    throw cannotWrite(folder, error);
  }
  for (const path of paths) if (existsSync(dirname(path))) checkWritable(path, force);
}

/** Makes a folder and those above it; hands back those that were not there, the innermost first. */
function makeFolder(path: string): string[] {
  try {
    const first = mkdirSync(path, { recursive: true });
    if (first === undefined) return [];
    const made = [resolve(path)];
    while (made[made.length - 1] !== resolve(first)) made.push(dirname(made[made.length - 1]));
    return made;
  } catch (error) {
    throw cannotWrite(path, error);
  }
}

/**
 * Writes files whole or not at all: all of them beside their places first, then each is moved into its
 * place. When anything fails, or the process is told to stop (SIGINT, SIGTERM, SIGHUP), none is left behind
 * half, and no folder that was made for them.
 *
 * @param folders made first where they are not there
 */
export async function writeFiles(
  outputs: readonly Output[],
  force: boolean,
  folders: readonly string[] = [],
): Promise<void> {
  const made: string[] = [];
  const waiting: { part: string; path: string }[] = [];
  const clean = () => {
    for (const { part } of waiting) rmSync(part, { force: true });
    for (const folder of made)
      if (existsSync(folder) && readdirSync(folder).length === 0) rmdirSync(folder);
  };
  const stop = (signal: NodeJS.Signals) => {
    clean();
    // By convention of shells: 128 and the signal's number.
    process.exit(128 + constants.signals[signal]);
  };
  for (const signal of stops) process.once(signal, stop);
  try {
    for (const folder of folders) made.unshift(...makeFolder(folder));
    for (const { path } of outputs) checkWritable(path, force);
    for (const [i, { path, bytes }] of outputs.entries()) {
      // Not called after the file: a name that is just short enough would no longer be.
      const part = join(dirname(path), `.unclicked-${process.pid}-${i}.part`);
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
    for (const signal of stops) process.off(signal, stop);
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
