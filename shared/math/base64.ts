const DIGITS = 'ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/';

/** Base 64 (RFC 4648, section 4) to bytes, without leaning on a browser or Node. */
export function fromBase64(text: string): Uint8Array<ArrayBuffer> {
  const values = new Uint8Array(128);
  for (let d = 0; d < 64; d++) values[DIGITS.charCodeAt(d)] = d;
  const padding = text.endsWith('==') ? 2 : text.endsWith('=') ? 1 : 0;
  const bytes = new Uint8Array((text.length / 4) * 3 - padding);
  for (let i = 0, at = 0; i < text.length; ) {
    let word = 0;
    for (const end = i + 4; i < end; i++) word = (word << 6) | values[text.charCodeAt(i)];
    // What would lie behind the end is dropped by the array.
    bytes[at++] = word >> 16;
    bytes[at++] = word >> 8;
    bytes[at++] = word;
  }
  return bytes;
}
