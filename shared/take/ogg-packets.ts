import { InputError } from '../math/input-error.ts';
import type { Samples } from '../math/units.ts';

/** A packet of a stream, and the count of samples after its page where it is the last that ends there. */
export interface OggPacket {
  readonly bytes: Uint8Array;
  readonly position: Samples | null;
}

/** Whether a file is an Ogg stream. */
export function isOgg(head: Uint8Array): boolean {
  return [0x4f, 0x67, 0x67, 0x53].every((byte, i) => head[i] === byte);
}

/**
 * The packets of the first stream of an Ogg file whose first packet begins with `signature` (RFC 3533).
 * Other streams in it, and what is chained behind it, are left out. Throws InputError where the
 * file is cut off within its headers; a cut off end gives the packets before it.
 */
export function* oggPackets(
  bytes: Uint8Array,
  signature: Uint8Array,
  name: string,
): Generator<OggPacket> {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  let serial: number | null = null;
  let begun: Uint8Array[] = [];
  for (let at = 0; at + 27 <= bytes.length; ) {
    if (!isOgg(bytes.subarray(at, at + 4)))
      throw new InputError(`${name} is a damaged Ogg file; copy it again.`);
    const flags = bytes[at + 5];
    const position = view.getBigInt64(at + 6, true);
    const page = view.getUint32(at + 14, true);
    const count = bytes[at + 26];
    let data = at + 27 + count;
    const lengths = bytes.subarray(at + 27, data);
    const end = data + lengths.reduce((sum, length) => sum + length, 0);
    if (lengths.length < count || end > bytes.length) return;
    at = end;
    const first = bytes.subarray(data, data + signature.length);
    if (serial === null && flags & 2 && signature.every((byte, i) => first[i] === byte))
      serial = page;
    if (page !== serial) continue;
    // A packet that goes on from a page that is lost is lost too.
    let lost = (flags & 1) === 1 && begun.length === 0;
    if ((flags & 1) === 0) begun = [];
    const ended: Uint8Array[] = [];
    let length = 0;
    lengths.forEach((lace, i) => {
      length += lace;
      if (lace === 255 && i < lengths.length - 1) return;
      const piece = bytes.subarray(data, data + length);
      data += length;
      length = 0;
      if (lace === 255) begun.push(piece);
      else {
        if (!lost) ended.push(joined([...begun, piece]));
        lost = false;
        begun = [];
      }
    });
    for (const [i, packet] of ended.entries())
      yield {
        bytes: packet,
        position: i === ended.length - 1 && position >= 0n ? Number(position) : null,
      };
    // End of the stream.
    if (flags & 4) return;
  }
}

function joined(pieces: readonly Uint8Array[]): Uint8Array {
  const [only] = pieces;
  if (pieces.length === 1) return only;
  const bytes = new Uint8Array(pieces.reduce((sum, piece) => sum + piece.length, 0));
  let at = 0;
  for (const piece of pieces) {
    bytes.set(piece, at);
    at += piece.length;
  }
  return bytes;
}
