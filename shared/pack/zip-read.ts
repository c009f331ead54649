import { InputError } from '../math/input-error.ts';
import { type ByteSource, sourceOf } from '../take/byte-source.ts';
import { crc32 } from './crc32.ts';

/** Raw inflate: `size` is the length that must come out. */
export type Inflate = (bytes: Uint8Array, size: number) => Uint8Array;

/** A file of an archive: its length, and its content, whose checksum is checked when it is read. */
export interface ZippedFile {
  readonly size: number;
  readonly bytes: () => Uint8Array;
  /** The same piece by piece, each of which holds until the next one is taken; of a stored file no more is held. */
  readonly pieces: () => Iterable<Uint8Array>;
  /** The same to be read where it is wanted, checked beforehand; a stored file stays where it lies. */
  readonly source: () => ByteSource;
}

const pieceSize = 1 << 20;
const full = 0xffff_ffff;

/**
 * Reads the list of an archive's files, by path; contents are read when asked for. Deflated files want
 * `inflate`. Throws InputError for what is no archive, cut off, damaged, encrypted or packed in
 * another way, `bytes` of a file too.
 *
 * @param name what the messages call the archive
 */
export function readZip(
  source: ByteSource,
  name: string,
  inflate?: Inflate,
): Map<string, ZippedFile> {
  const broken = () =>
    new InputError(`${name} is a zip archive that is cut off or damaged; copy it again.`);
  const take: Take = (at, length, room) => {
    if (!(at >= 0 && length >= 0 && at + length <= source.length)) throw broken();
    const bytes = source.read(at, length, room);
    return new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  };
  const { count, start, end } = directory(source, take, name);
  const list = take(start, end - start);
  const files = new Map<string, ZippedFile>();
  let at = 0;
  for (let i = 0; i < count; i++) {
    if (at + 46 > list.byteLength || list.getUint32(at, true) !== 0x02014b50) throw broken();
    const entry = centralEntry(list, at);
    if (!entry) throw broken();
    at = entry.next;
    if (entry.name.endsWith('/')) continue;
    if (entry.flags & 1) throw new InputError(`${name} is encrypted; save it without a password.`);
    if (entry.method !== 0 && !(entry.method === 8 && inflate))
      throw new InputError(
        `${name} is packed in a way that can't be read; pack it as a plain zip.`,
      );
    const dataAt = () => {
      const head = take(entry.offset, 30);
      if (head.getUint32(0, true) !== 0x04034b50) throw broken();
      return entry.offset + 30 + head.getUint16(26, true) + head.getUint16(28, true);
    };
    const checked = (size: number, crc: number) => {
      if (size !== entry.size || crc !== entry.crc)
        throw new InputError(
          `${name} is damaged at ${entry.name.replace(/\p{C}/gu, '?')}; copy it again.`,
        );
    };
    const bytes = () => {
      const packed = bytesOf(take(dataAt(), entry.packed));
      let content = packed;
      try {
        if (entry.method === 8 && inflate) content = inflate(packed, entry.size);
      } catch {
        throw broken();
      }
      checked(content.length, crc32(content));
      return content;
    };
    const pieces = function* () {
      if (entry.method !== 0) {
        yield bytes();
        return;
      }
      const from = dataAt();
      const room = new Uint8Array(Math.min(pieceSize, entry.packed));
      let crc = 0;
      for (let done = 0; done < entry.packed; done += pieceSize) {
        const piece = bytesOf(take(from + done, Math.min(pieceSize, entry.packed - done), room));
        crc = crc32(piece, crc);
        yield piece;
      }
      checked(entry.packed, crc);
    };
    const source = (): ByteSource => {
      if (entry.method !== 0) return sourceOf(bytes());
      let checkedBytes = 0;
      for (const piece of pieces()) checkedBytes += piece.length;
      const from = dataAt();
      return {
        length: checkedBytes,
        read: (at, length, room) => bytesOf(take(from + at, length, room)),
      };
    };
    files.set(entry.name, { size: entry.size, bytes, pieces, source });
  }
  return files;
}

function bytesOf(view: DataView): Uint8Array {
  return new Uint8Array(view.buffer, view.byteOffset, view.byteLength);
}

type Take = (at: number, length: number, room?: Uint8Array) => DataView;

/** Where the central directory lies, and how many files it lists. */
function directory(source: ByteSource, take: Take, name: string) {
  const tailLength = Math.min(source.length, 22 + 0xffff);
  const tailAt = source.length - tailLength;
  const tail = take(tailAt, tailLength);
  let end = tailLength - 22;
  while (end >= 0 && tail.getUint32(end, true) !== 0x06054b50) end--;
  if (end < 0)
    throw new InputError(
      `${name} is no zip archive, or is cut off; name a project file as it was saved.`,
    );
  if (end >= 20 && tail.getUint32(end - 20, true) === 0x07064b50) {
    const at = Number(tail.getBigUint64(end - 12, true));
    const wide = take(at, 56);
    const count = Number(wide.getBigUint64(32, true));
    return { count, start: Number(wide.getBigUint64(48, true)), end: at };
  }
  const start = tail.getUint32(end + 16, true);
  return { count: tail.getUint16(end + 10, true), start, end: tailAt + end };
}

/** One entry of the central directory, or null where it runs over the end. */
function centralEntry(view: DataView, at: number) {
  const nameLength = view.getUint16(at + 28, true);
  const extraAt = at + 46 + nameLength;
  const extraEnd = extraAt + view.getUint16(at + 30, true);
  const next = extraEnd + view.getUint16(at + 32, true);
  if (next > view.byteLength) return null;
  // Zip64: a field that is full stands in the extra field instead, in this order.
  let wide = -1;
  let wideEnd = -1;
  for (let e = extraAt; e + 4 <= extraEnd; e += 4 + view.getUint16(e + 2, true))
    if (view.getUint16(e, true) === 1) {
      wide = e + 4;
      wideEnd = Math.min(wide + view.getUint16(e + 2, true), extraEnd);
    }
  const field = (position: number) => {
    const value = view.getUint32(at + position, true);
    if (value !== full || wide < 0 || wide + 8 > wideEnd) return value;
    wide += 8;
    return Number(view.getBigUint64(wide - 8, true));
  };
  const size = field(24);
  const packed = field(20);
  const offset = field(42);
  return {
    name: new TextDecoder().decode(
      new Uint8Array(view.buffer, view.byteOffset + at + 46, nameLength),
    ),
    flags: view.getUint16(at + 8, true),
    method: view.getUint16(at + 10, true),
    crc: view.getUint32(at + 16, true),
    packed,
    size,
    offset,
    next,
  };
}
