import type { Samples } from '../math/units.ts';
import type { CutOff } from './lossy-file.ts';
import { isOgg } from './ogg-packets.ts';

const vorbis = Uint8Array.of(1, ...Array.from('vorbis', (letter) => letter.charCodeAt(0)));
const opus = Uint8Array.from('OpusHead', (letter) => letter.charCodeAt(0));

/**
 * How much sound there is in an Ogg file whose first stream of Vorbis or Opus never ends: the page that says it is
 * the last (RFC 3533, section 6) is missing. Null where it is there, and where no such stream is. The rate is that of the
 * identification header (Vorbis I specification, 4.2.2); Opus counts at 48 kHz (RFC 7845, 4).
 */
export function oggCutOff(bytes: Uint8Array): CutOff | null {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  let stream: { serial: number; rate: number } | null = null;
  let last: Samples = 0;
  for (let at = 0; at + 27 <= bytes.length; ) {
    if (!isOgg(bytes.subarray(at, at + 4))) return null;
    const count = bytes[at + 26];
    const data = at + 27 + count;
    let end = data;
    for (let i = at + 27; i < data; i++) end += bytes[i] ?? 0;
    if (end > bytes.length) break;
    const flags = bytes[at + 5];
    const serial = view.getUint32(at + 14, true);
    const begins = (signature: Uint8Array) =>
      signature.every((byte, i) => bytes[data + i] === byte);
    if (!stream && begins(vorbis) && end - data >= 16)
      stream = { serial, rate: view.getUint32(data + 12, true) };
    else if (!stream && begins(opus)) stream = { serial, rate: 48000 };
    if (stream?.serial === serial) {
      if (flags & 4) return null;
      const position = view.getBigInt64(at + 6, true);
      if (position > 0n) last = Number(position);
    }
    at = end;
  }
  return stream && stream.rate > 0 ? { held: last / stream.rate, promised: null } : null;
}
