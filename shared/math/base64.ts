const DIGITS = 'ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/';

/** Base 64 (RFC 4648, section 4) to bytes, without leaning on a browser or Node. */
export function fromBase64(text: string): Uint8Array<ArrayBuffer> {
  const values = new Uint8Array(128);
  for (let d = 0; d < 64; d++) values[DIGITS.charCodeAt(d)] = d;
  const padding = text.endsWith('==') ? 2 : text.endsWith('=') ? 1 : 0;
  const bytes = new Uint8Array((text.length / 4) * 3 - padding);
  let at = 0;
  for (let i = 0; i < text.length; i += 4) {
    let word = 0;
    for (let k = 0; k < 4; k++) word = (word << 6) | values[text.charCodeAt(i + k)];
    for (let shift = 16; shift >= 0 && at < bytes.length; shift -= 8)
      bytes[at++] = (word >> shift) & 255;
  }
  return bytes;
}
