import type { Hertz } from '../../shared/math/units.ts';

/**
 * The sample rate that a compressed file's header states, so that it can be decoded without being
 * resampled; null where no header is understood. Sources: Ogg (RFC 3533) with the Vorbis I specification 4.2.2 and RFC 7845 (Opus always decodes at 48 kHz), MPEG audio frame
 * header (ISO/IEC 11172-3, 2.4.2.3, and 13818-3).
 */
export function fileRate(bytes: Uint8Array): Hertz | null {
  if (lettersAt(bytes, 0, 'OggS')) {
    const at = 27 + bytes[26];
    if (lettersAt(bytes, at, 'OpusHead')) return 48000;
    if (bytes[at] === 1 && lettersAt(bytes, at + 1, 'vorbis')) return u32(bytes, at + 12) || null;
    return null;
  }
  return mpegRate(bytes);
}

/** Whether a file is WAV, also of more than 4 GiB (RF64, EBU Tech 3306; BW64, ITU-R BS.2088). */
export function isWav(bytes: Uint8Array): boolean {
  return ['RIFF', 'RF64', 'BW64'].some((letters) => lettersAt(bytes, 0, letters));
}

/** How many bits a FLAC file's samples have: STREAMINFO, RFC 9639, 8.2, five bits after rate and channels, less one. */
export function flacBits(bytes: Uint8Array): number {
  return (((bytes[20] & 1) << 4) | (bytes[21] >> 4)) + 1;
}

const lettersAt = (bytes: Uint8Array, at: number, letters: string) =>
  [...letters].every((letter, i) => bytes[at + i] === letter.charCodeAt(0));

const u32 = (bytes: Uint8Array, at: number) =>
  bytes[at] | (bytes[at + 1] << 8) | (bytes[at + 2] << 16) | (bytes[at + 3] << 24);

/** Hertz by version bits (2.5, reserved, 2, 1) and rate index. */
const mpegRates: readonly (readonly number[])[] = [
  [11025, 12000, 8000],
  [],
  [22050, 24000, 16000],
  [44100, 48000, 32000],
];

/** The first frame header of an MPEG audio stream, after an ID3v2 tag if there is one. */
function mpegRate(bytes: Uint8Array): Hertz | null {
  let at = 0;
  if (lettersAt(bytes, 0, 'ID3')) {
    const size = (bytes[6] << 21) | (bytes[7] << 14) | (bytes[8] << 7) | bytes[9];
    at = 10 + size;
  }
  const until = Math.min(bytes.length - 4, at + 4096);
  for (; at < until; at++) {
    if (bytes[at] !== 0xff || (bytes[at + 1] & 0xe0) !== 0xe0) continue;
    const layer = (bytes[at + 1] >> 1) & 3;
    const rate = mpegRates[(bytes[at + 1] >> 3) & 3]?.[(bytes[at + 2] >> 2) & 3];
    if (layer !== 0 && rate) return rate;
  }
  return null;
}
