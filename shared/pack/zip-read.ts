import { InputError } from '../math/input-error.ts';
import { crc32 } from './crc32.ts';

/** Raw inflate: `size` is the length that must come out. */
export type Inflate = (bytes: Uint8Array, size: number) => Uint8Array;

const full = 0xffff_ffff;

/**
 * Reads an archive in memory: every file by its path, its checksum checked. Deflated files want
 * `inflate`. Throws InputError for what is no archive, cut off, damaged, encrypted or packed in
 * another way.
 *
 * @param name what the messages call the archive
 */
export function readZip(
  bytes: Uint8Array,
  name: string,
  inflate?: Inflate,
): Map<string, Uint8Array> {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  try {
    const files = new Map<string, Uint8Array>();
    const { count, start } = directory(view, name);
    let at = start;
    for (let i = 0; i < count; i++) {
      if (view.getUint32(at, true) !== 0x02014b50) throw new RangeError();
      const entry = centralEntry(view, at);
      at = entry.next;
      const path = new TextDecoder().decode(entry.name);
      if (path.endsWith('/')) continue;
      if (entry.flags & 1)
        throw new InputError(`${name} is encrypted; save it without a password.`);
      const data = entryData(view, entry.offset, entry.packed);
      let content: Uint8Array;
      if (entry.method === 0) content = data;
      else if (entry.method === 8 && inflate) content = inflate(data, entry.size);
      else
        throw new InputError(
          `${name} is packed in a way that can't be read; pack it as a plain zip.`,
        );
      if (content.length !== entry.size || crc32(content) !== entry.crc)
        throw new InputError(`${name} is damaged at ${path}; copy it again.`);
      files.set(path, content);
    }
    return files;
  } catch (error) {
    if (error instanceof InputError) throw error;
    throw new InputError(`${name} is a zip archive that is cut off or damaged; copy it again.`);
  }
}

/** Where the central directory starts, and how many files it lists. */
function directory(view: DataView, name: string): { count: number; start: number } {
  const least = Math.max(0, view.byteLength - 22 - 0xffff);
  let end = view.byteLength - 22;
  while (end >= least && view.getUint32(end, true) !== 0x06054b50) end--;
  if (end < least)
    throw new InputError(
      `${name} is no zip archive, or is cut off; name a project file as it was saved.`,
    );
  const count = view.getUint16(end + 10, true);
  const start = view.getUint32(end + 16, true);
  if (end >= 20 && view.getUint32(end - 20, true) === 0x07064b50) {
    const wide = Number(view.getBigUint64(end - 12, true));
    return {
      count: Number(view.getBigUint64(wide + 32, true)),
      start: Number(view.getBigUint64(wide + 48, true)),
    };
  }
  return { count, start };
}

interface CentralEntry {
  readonly name: Uint8Array;
  readonly flags: number;
  readonly method: number;
  readonly crc: number;
  readonly packed: number;
  readonly size: number;
  readonly offset: number;
  readonly next: number;
}

function slice(view: DataView, at: number, length: number): Uint8Array {
  if (at < 0 || at + length > view.byteLength) throw new RangeError();
  return new Uint8Array(view.buffer, view.byteOffset + at, length);
}

function centralEntry(view: DataView, at: number): CentralEntry {
  const nameLength = view.getUint16(at + 28, true);
  const extraLength = view.getUint16(at + 30, true);
  const extraAt = at + 46 + nameLength;
  // Zip64: a field that is full stands in the extra field instead, in this order.
  let wide = -1;
  for (let e = extraAt; e + 4 <= extraAt + extraLength; e += 4 + view.getUint16(e + 2, true))
    if (view.getUint16(e, true) === 1) wide = e + 4;
  const field = (position: number) => {
    const value = view.getUint32(at + position, true);
    if (value !== full || wide < 0) return value;
    wide += 8;
    return Number(view.getBigUint64(wide - 8, true));
  };
  const size = field(24);
  const packed = field(20);
  const offset = field(42);
  return {
    name: slice(view, at + 46, nameLength),
    flags: view.getUint16(at + 8, true),
    method: view.getUint16(at + 10, true),
    crc: view.getUint32(at + 16, true),
    packed,
    size,
    offset,
    next: extraAt + extraLength + view.getUint16(at + 32, true),
  };
}

function entryData(view: DataView, offset: number, packed: number): Uint8Array {
  if (view.getUint32(offset, true) !== 0x04034b50) throw new RangeError();
  const skip = 30 + view.getUint16(offset + 26, true) + view.getUint16(offset + 28, true);
  return slice(view, offset + skip, packed);
}
