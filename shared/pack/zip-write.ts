import { crc32 } from './crc32.ts';
import { directoryOf, dosMoment, localHeader, type PlacedFile } from './zip-layout.ts';

/** A file of an archive. `bytes` is asked for when its turn comes, so that one file is held at a time. */
export interface ZipEntry {
  /** Path with forward slashes. */
  readonly name: string;
  readonly bytes: () => Uint8Array | Promise<Uint8Array>;
  /**
   * The same piece by piece, for a long file that lies elsewhere: it is gone through twice, and stored. A
   * piece need hold only until the next one is taken, as what `writeZip` then yields.
   */
  readonly pieces?: () => Iterable<Uint8Array>;
  /** Whether deflate is tried on it; it is, unless this says no. */
  readonly shrink?: boolean;
}

export interface ZipOptions {
  /** ISO 8601 moment that every file carries: a fixed one gives the same archive every time. */
  readonly date: string;
  /** Raw deflate, where the program has one; what would not shrink is stored. */
  readonly deflate?: (bytes: Uint8Array) => Uint8Array;
}

const stored = 0;
const deflated = 8;

/** What an entry holds: its fields, and its data as it goes into the archive. */
type Content = Pick<PlacedFile, 'method' | 'crc' | 'packed' | 'size'> & {
  readonly data: Iterable<Uint8Array>;
};

function fromBytes(bytes: Uint8Array, deflate: ZipOptions['deflate']): Content {
  const smaller = deflate?.(bytes);
  const shrunk = smaller !== undefined && smaller.length < bytes.length;
  const data = shrunk ? smaller : bytes;
  const method = shrunk ? deflated : stored;
  return { method, crc: crc32(bytes), packed: data.length, size: bytes.length, data: [data] };
}

function fromPieces(pieces: () => Iterable<Uint8Array>): Content {
  let crc = 0;
  let size = 0;
  for (const piece of pieces()) {
    crc = crc32(piece, crc);
    size += piece.length;
  }
  return { method: stored, crc, packed: size, size, data: pieces() };
}

/**
 * Writes an archive piece by piece (names in UTF-8, Zip64 where a file or the archive
 * passes 4 GiB, or has more than 65534 files). Entries are made one after the other, as their pieces are taken.
 */
export async function* writeZip(
  entries: Iterable<ZipEntry> | AsyncIterable<ZipEntry>,
  options: ZipOptions,
): AsyncGenerator<Uint8Array> {
  const moment = dosMoment(options.date);
  const placed: PlacedFile[] = [];
  let offset = 0;
  for await (const entry of entries) {
    const { data, ...content } = entry.pieces
      ? fromPieces(entry.pieces)
      : fromBytes(await entry.bytes(), entry.shrink === false ? undefined : options.deflate);
    const file = { name: new TextEncoder().encode(entry.name), ...content, offset };
    const header = localHeader(file, moment);
    placed.push(file);
    offset += header.length + file.packed;
    yield header;
    for (const piece of data) yield piece;
  }
  yield* directoryOf(placed, offset, moment);
}
