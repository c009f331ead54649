import type { Hertz, Samples } from '../math/units.ts';
import type { CutOff } from './lossy-file.ts';

/** What a first frame says that holds a tag instead of sound. */
export interface Mp3Tag {
  /** Samples to leave out before and behind. */
  readonly before: Samples;
  readonly behind: Samples;
  /** Frames of sound after it; null where it does not say. */
  readonly frames: number | null;
}

/** What the frames of a file say without being decoded. */
export interface Mp3Frames {
  /** Null where the first frame is sound. */
  readonly tag: Mp3Tag | null;
  /** Null where the end is there. */
  readonly cutOff: CutOff | null;
}

interface Frame {
  /** In bytes. */
  readonly size: number;
  readonly samples: Samples;
  readonly rate: Hertz;
  /** Bytes of header and side information, after which a tag may lie instead of sound. */
  readonly side: number;
}

/** Kilobits a second by index, of MPEG 1 and of MPEG 2 and 2.5 (ISO/IEC 11172-3, 2.4.2.3; 13818-3, 2.4.2.3). */
const kilobits1 = [0, 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320];
const kilobits2 = [0, 8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160];
const rates: readonly Hertz[] = [44100, 48000, 32000];
/** What every decoder is late by (ISO/IEC 11172-3 leaves it open; 528 and 1 by common practice, as the LAME tag counts it). */
const decoderDelay: Samples = 529;

/** Whether a file begins with an ID3v2 tag (id3.org, 3.1). */
export const isTagged = (head: Uint8Array): boolean =>
  [0x49, 0x44, 0x33].every((byte, i) => head[i] === byte);

/** Where the sound begins, after such a tag. */
function soundAt(bytes: Uint8Array): number {
  if (!isTagged(bytes)) return 0;
  return 10 + ((bytes[6] << 21) | (bytes[7] << 14) | (bytes[8] << 7) | bytes[9]);
}

/** The frame whose header stands at a place (ISO/IEC 11172-3, 2.4.1.3); null where none does, or its bit rate is free. */
function frameAt(bytes: Uint8Array, at: number): Frame | null {
  const [sync, kind, speed, mode] = bytes.subarray(at, at + 4);
  if (mode === undefined || sync !== 0xff || (kind & 0xe6) !== 0xe2) return null;
  const version = (kind >> 3) & 3;
  const mpeg1 = version === 3;
  const rate = rates[(speed >> 2) & 3];
  const bits = (mpeg1 ? kilobits1 : kilobits2)[speed >> 4];
  if (version === 1 || !rate || !bits) return null;
  const hertz = rate / (mpeg1 ? 1 : version === 2 ? 2 : 4);
  const samples = mpeg1 ? 1152 : 576;
  const mono = mode >> 6 === 3;
  return {
    size: Math.floor((samples * bits * 125) / hertz) + ((speed >> 1) & 1),
    samples,
    rate: hertz,
    side: 4 + (mpeg1 ? (mono ? 17 : 32) : mono ? 9 : 17),
  };
}

/**
 * The count of frames, and the encoder's delay and padding, from the Info or Xing frame, where its LAME extension
 * states them (LAME technical FAQ and "Mp3 Info Tag rev 1").
 */
function tagOf(bytes: Uint8Array, at: number, frame: Frame): Mp3Tag | null {
  const tag = at + frame.side;
  const text = String.fromCharCode(...bytes.subarray(tag, tag + 4));
  if (text !== 'Info' && text !== 'Xing') return null;
  // Frames, bytes, table of contents, quality: each there where its flag says so.
  const flags = bytes[tag + 7];
  const [a = 0, b = 0, c = 0, d = 0] = bytes.subarray(tag + 8, tag + 12);
  const frames = flags & 1 ? a * 2 ** 24 + ((b << 16) | (c << 8) | d) : null;
  let lame = tag + 8;
  if (flags & 1) lame += 4;
  if (flags & 2) lame += 4;
  if (flags & 4) lame += 100;
  if (flags & 8) lame += 4;
  const [e, f, g] = bytes.subarray(lame + 21, lame + 24);
  const delay = (e << 4) | (f >> 4);
  const padding = ((f & 15) << 8) | g;
  const stated = lame + 24 <= bytes.length && delay > 0 && delay < 4096;
  if (!stated) return { before: frame.samples, behind: 0, frames };
  return {
    before: frame.samples + delay + decoderDelay,
    behind: Math.max(0, padding - decoderDelay),
    frames,
  };
}

/**
 * Walks an MP3 file from frame to frame. Its end is missing where the last frame runs over the end of the file, or
 * where there are fewer frames than its tag says; of what is damaged on the way nothing is said.
 */
export function readMp3Frames(bytes: Uint8Array): Mp3Frames {
  let at = soundAt(bytes);
  const first = frameAt(bytes, at);
  const tag = first && tagOf(bytes, at, first);
  if (!first) return { tag: null, cutOff: null };
  if (tag) at += first.size;
  let held = 0;
  for (let frame = frameAt(bytes, at); frame; frame = frameAt(bytes, at)) {
    if (at + frame.size > bytes.length) break;
    at += frame.size;
    held += 1;
  }
  const overEnd = frameAt(bytes, at) !== null;
  // Some writers count the tag's own frame, too.
  const fewer = bytes.length - at < 4 && held < (tag?.frames ?? 0) - 1;
  if (!overEnd && !fewer) return { tag, cutOff: null };
  const added = tag ? tag.before - first.samples : 0;
  const seconds = (frames: number, behind = 0) =>
    Math.max(0, frames * first.samples - added - behind) / first.rate;
  const { frames = null, behind = 0 } = tag ?? {};
  const promised = frames !== null && frames > held ? seconds(frames, behind) : null;
  return { tag, cutOff: { held: seconds(held), promised } };
}
