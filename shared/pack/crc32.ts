/** Eight tables: table `k` is the effect of a byte that stands `k` bytes before the last (slicing by 8). */
const tables = Array.from({ length: 8 }, () => new Uint32Array(256));
for (let n = 0; n < 256; n++) {
  let c = n;
  for (let k = 0; k < 8; k++) c = c & 1 ? 0xedb88320 ^ (c >>> 1) : c >>> 1;
  tables[0][n] = c;
}
for (let k = 1; k < 8; k++)
  for (let n = 0; n < 256; n++)
    tables[k][n] = tables[0][tables[k - 1][n] & 0xff] ^ (tables[k - 1][n] >>> 8);

/**
 * CRC-32 as zip uses it (ISO 3309, polynomial 0xEDB88320 reflected), eight bytes at a time (Kounavis and
 * Berry, ISCC 2005).
 *
 * @param before the sum of what came before these bytes
 */
export function crc32(bytes: Uint8Array, before = 0): number {
  const [t0, t1, t2, t3, t4, t5, t6, t7] = tables;
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  let c = before ^ 0xffffffff;
  let at = 0;
  for (; at + 8 <= bytes.length; at += 8) {
    const a = c ^ view.getUint32(at, true);
    const b = view.getUint32(at + 4, true);
    c =
      t7[a & 0xff] ^
      t6[(a >>> 8) & 0xff] ^
      t5[(a >>> 16) & 0xff] ^
      t4[a >>> 24] ^
      t3[b & 0xff] ^
      t2[(b >>> 8) & 0xff] ^
      t1[(b >>> 16) & 0xff] ^
      t0[b >>> 24];
  }
  for (; at < bytes.length; at++) c = t0[(c ^ bytes[at]) & 0xff] ^ (c >>> 8);
  return (c ^ 0xffffffff) >>> 0;
}
