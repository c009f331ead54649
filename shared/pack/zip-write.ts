import { crc32 } from './crc32.ts';

/** A file of an archive. `bytes` is asked for when its turn comes, so that one file is held at a time. */
export interface ZipEntry {
  /** Path with forward slashes. */
  readonly name: string;
  readonly bytes: () => Uint8Array | Promise<Uint8Array>;
  /** The same piece by piece, for a long file that lies elsewhere: it is gone through twice, and stored. */
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
const full = 0xffff_ffff;

/** Little-endian fields of one, two, four or eight bytes, one after the other. */
function fields(...list: readonly (readonly [width: 2 | 4 | 8, value: number])[]): Uint8Array {
  const bytes = new Uint8Array(list.reduce((sum, [width]) => sum + width, 0));
  const view = new DataView(bytes.buffer);
  let at = 0;
  for (const [width, value] of list) {
    if (width === 2) view.setUint16(at, value, true);
    else if (width === 4) view.setUint32(at, value, true);
    else view.setBigUint64(at, BigInt(value), true);
    at += width;
  }
  return bytes;
}

/** Date and time as MS-DOS stores them, from 1980 on, to two seconds. */
function dosMoment(iso: string): readonly [time: number, date: number] {
  const parts = /^(\d{4})-(\d\d)-(\d\d)(?:T(\d\d):(\d\d):(\d\d))?/.exec(iso);
  const [year, month, day, hour, minute, second] = (parts ?? [])
    .slice(1)
    .map((part) => Number(part ?? 0));
  if (!parts || year < 1980 || year > 2107) return [0, (1 << 5) | 1];
  return [(hour << 11) | (minute << 5) | (second >> 1), ((year - 1980) << 9) | (month << 5) | day];
}

interface Placed {
  readonly name: Uint8Array;
  readonly method: number;
  readonly crc: number;
  readonly packed: number;
  readonly size: number;
  readonly offset: number;
}

/** What an entry holds: its fields, and its data as it goes into the archive. */
type Content = Pick<Placed, 'method' | 'crc' | 'packed' | 'size'> & {
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
 * Writes an archive piece by piece (PKWARE APPNOTE.TXT 6.3: names in UTF-8, Zip64 where a file or the
 * archive passes 4 GiB). Entries are made one after the other, as their pieces are taken.
 */
export async function* writeZip(
  entries: Iterable<ZipEntry> | AsyncIterable<ZipEntry>,
  options: ZipOptions,
): AsyncGenerator<Uint8Array> {
  const [time, date] = dosMoment(options.date);
  const placed: Placed[] = [];
  let offset = 0;
  for await (const entry of entries) {
    const { data, ...content } = entry.pieces
      ? fromPieces(entry.pieces)
      : fromBytes(await entry.bytes(), entry.shrink === false ? undefined : options.deflate);
    const file: Placed = { name: new TextEncoder().encode(entry.name), ...content, offset };
    const wide = file.size >= full || file.packed >= full;
    const extra = wide
      ? fields([2, 1], [2, 16], [8, file.size], [8, file.packed])
      : new Uint8Array(0);
    const header = fields(
      [4, 0x04034b50],
      [2, wide ? 45 : 20],
      // Bit 11: the name is UTF-8.
      [2, 0x0800],
      [2, file.method],
      [2, time],
      [2, date],
      [4, file.crc],
      [4, wide ? full : file.packed],
      [4, wide ? full : file.size],
      [2, file.name.length],
      [2, extra.length],
    );
    placed.push(file);
    offset += header.length + file.name.length + extra.length + file.packed;
    yield header;
    yield file.name;
    if (wide) yield extra;
    for (const piece of data) yield piece;
  }

  const start = offset;
  for (const file of placed) {
    const values: (readonly [8, number])[] = [];
    const narrow = (value: number) => {
      if (value < full) return value;
      values.push([8, value]);
      return full;
    };
    const size = narrow(file.size);
    const packed = narrow(file.packed);
    const at = narrow(file.offset);
    const extra =
      values.length > 0 ? fields([2, 1], [2, values.length * 8], ...values) : new Uint8Array(0);
    const header = fields(
      [4, 0x02014b50],
      // Made by version 4.5 on Unix, so that the attributes below are a mode.
      [2, (3 << 8) | 45],
      [2, values.length > 0 ? 45 : 20],
      [2, 0x0800],
      [2, file.method],
      [2, time],
      [2, date],
      [4, file.crc],
      [4, packed],
      [4, size],
      [2, file.name.length],
      [2, extra.length],
      [2, 0],
      [2, 0],
      [2, 0],
      [4, 0o100644 * 0x10000],
      [4, at],
    );
    offset += header.length + file.name.length + extra.length;
    yield header;
    yield file.name;
    if (extra.length > 0) yield extra;
  }

  const count = placed.length;
  const length = offset - start;
  if (count >= 0xffff || start >= full || length >= full) {
    yield fields(
      [4, 0x06064b50],
      [8, 44],
      [2, (3 << 8) | 45],
      [2, 45],
      [4, 0],
      [4, 0],
      [8, count],
      [8, count],
      [8, length],
      [8, start],
    );
    yield fields([4, 0x07064b50], [4, 0], [8, offset], [4, 1]);
  }
  yield fields(
    [4, 0x06054b50],
    [2, 0],
    [2, 0],
    [2, Math.min(count, 0xffff)],
    [2, Math.min(count, 0xffff)],
    [4, Math.min(length, full)],
    [4, Math.min(start, full)],
    [2, 0],
  );
}
