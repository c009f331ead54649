const DIGITS = 'ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/';

/** Base 64 (RFC 4648, section 4) to bytes, without leaning on a browser or Node. */
export function fromBase64(text: string): Uint8Array<ArrayBuffer> {
  const values = new Uint8Array(128);
  for (let d = 0; d < 64; d++) values[DIGITS.charCodeAt(d)] = d;
  const padding = text.endsWith('==') ? 2 : text.endsWith('=') ? 1 : 0;
  const bytes = new Uint8Array((text.length / 4) * 3 - padding);
  const value = (i: number) => values[text.charCodeAt(i)];
  for (let i = 0, at = 0; i < text.length; i += 4, at += 3) {
    const word = (value(i) << 18) | (value(i + 1) << 12) | (value(i + 2) << 6) | value(i + 3);
    // What would lie behind the end is dropped by the array.
    bytes[at] = word >> 16;
    bytes[at + 1] = word >> 8;
    bytes[at + 2] = word;
  }
  return bytes;
}
