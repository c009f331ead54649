/*
 * The fields of a zip archive (PKWARE APPNOTE.TXT 6.3.10, 4.3): what stands before each file, the directory behind
 * all, Zip64 where a length, a place or a count is more than the plain fields hold.
 */

/** Where a file of an archive lies and what is said of it. */
export interface PlacedFile {
  readonly name: Uint8Array;
  readonly method: number;
  readonly crc: number;
  /** Bytes that it takes in the archive, and that it has. */
  readonly packed: number;
  readonly size: number;
  /** Of its header, from the archive's start. */
  readonly offset: number;
}

/** Date and time as MS-DOS stores them. */
export type DosMoment = readonly [time: number, date: number];

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
export function dosMoment(iso: string): DosMoment {
  const parts = /^(\d{4})-(\d\d)-(\d\d)(?:T(\d\d):(\d\d):(\d\d))?/.exec(iso);
  const [year, month, day, hour, minute, second] = (parts ?? [])
    .slice(1)
    .map((part) => Number(part ?? 0));
  if (!parts || year < 1980 || year > 2107) return [0, (1 << 5) | 1];
  return [(hour << 11) | (minute << 5) | (second >> 1), ((year - 1980) << 9) | (month << 5) | day];
}

function joined(...parts: readonly Uint8Array[]): Uint8Array {
  const bytes = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) {
    bytes.set(part, at);
    at += part.length;
  }
  return bytes;
}

/** What stands before a file's data: local header, name, and its true lengths where they are long. */
export function localHeader(file: PlacedFile, [time, date]: DosMoment): Uint8Array {
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
  return joined(header, file.name, extra);
}

/** A file's entry in the directory. */
function centralHeader(file: PlacedFile, [time, date]: DosMoment): Uint8Array {
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
  return joined(header, file.name, extra);
}

/** The directory of all files and the records that end an archive. `start`: where the directory stands. */
export function* directoryOf(
  placed: readonly PlacedFile[],
  start: number,
  moment: DosMoment,
): Generator<Uint8Array> {
  let offset = start;
  for (const file of placed) {
    const header = centralHeader(file, moment);
    offset += header.length;
    yield header;
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
