import { InputError } from '../math/input-error.ts';
import { BitReader, EndOfBits } from './bit-reader.ts';
import { BrokenFlac, readSubframe } from './flac-subframe.ts';
import type { WavFile } from './wav-read.ts';

/** What STREAMINFO says of a stream; `frames` is 0 where its writer did not know. */
interface StreamInfo {
  readonly sampleRate: number;
  readonly channels: number;
  readonly depth: number;
  readonly frames: number;
  /** Where the first frame begins. */
  readonly start: number;
}

const blockSizes: Readonly<Record<number, number>> = { 1: 192, 2: 576, 3: 1152, 4: 2304, 5: 4608 };
const depths: Readonly<Record<number, number>> = { 1: 8, 2: 12, 4: 16, 5: 20, 6: 24, 7: 32 };

/** Whether bytes begin as a FLAC stream does. */
export function isFlac(bytes: Uint8Array): boolean {
  return bytes[0] === 0x66 && bytes[1] === 0x4c && bytes[2] === 0x61 && bytes[3] === 0x43;
}

/**
 * Decodes a whole FLAC stream (RFC 9639), bit for bit: up to 8 channels of up to 32 bits; 32-bit samples
 * are rounded to the nearest 32-bit float. Every frame's checksums are checked.
 *
 * Throws InputError for a stream that is damaged, cut off, empty, or outside 8 to 192 kHz.
 */
export function readFlac(bytes: Uint8Array, name: string): WavFile {
  const damaged = () =>
    new InputError(`${name} is damaged or no FLAC file; copy or export it again.`);
  try {
    const info = readInfo(bytes);
    if (info.sampleRate < 8000 || info.sampleRate > 192000)
      throw new InputError(`${name} runs at ${info.sampleRate} Hz; 8000 to 192000 Hz can be read.`);
    const blocks = readFrames(bytes, info);
    const length = blocks.reduce((sum, block) => sum + block[0].length, 0);
    if (length === 0)
      throw new InputError(`${name} holds no sound: its length is zero; export it again.`);
    if (length < info.frames)
      throw new InputError(
        `${name} is cut off: it promises ${(info.frames / info.sampleRate).toFixed(2)} s of sound and holds ${(length / info.sampleRate).toFixed(2)} s; copy or export it again.`,
      );
    const channels = Array.from({ length: info.channels }, (_, c) => {
      const channel = new Float32Array(length);
      let at = 0;
      for (const block of blocks) {
        channel.set(block[c], at);
        at += block[c].length;
      }
      return channel;
    });
    const bits = info.depth <= 8 ? 8 : info.depth <= 16 ? 16 : info.depth <= 24 ? 24 : 32;
    return { audio: { sampleRate: info.sampleRate, channels }, bits, float: false };
  } catch (error) {
    if (error instanceof InputError) throw error;
    if (error instanceof BrokenFlac || error instanceof EndOfBits) throw damaged();
    throw error;
  }
}

/** The metadata blocks, of which only the first is needed (section 8). */
function readInfo(bytes: Uint8Array): StreamInfo {
  if (!isFlac(bytes)) throw new BrokenFlac();
  let info: Omit<StreamInfo, 'start'> | null = null;
  let at = 4;
  for (let last = false; !last; ) {
    const header = new BitReader(bytes, at);
    last = header.unsigned(1) === 1;
    const type = header.unsigned(7);
    const size = header.unsigned(24);
    if (type === 0) {
      const bits = new BitReader(bytes, at + 14);
      info = {
        sampleRate: bits.unsigned(20),
        channels: bits.unsigned(3) + 1,
        depth: bits.unsigned(5) + 1,
        frames: bits.unsigned(36),
      };
    }
    at += 4 + size;
  }
  if (!info || info.depth < 4) throw new BrokenFlac();
  return { ...info, start: at };
}

/** Every frame's samples, channel by channel, scaled to full scale 1. Ends where no whole frame follows. */
function readFrames(bytes: Uint8Array, info: StreamInfo): Float32Array[][] {
  const blocks: Float32Array[][] = [];
  let done = 0;
  for (let at = info.start; at < bytes.length && (info.frames === 0 || done < info.frames); ) {
    try {
      const { channels, end } = readFrame(bytes, at, info);
      const wanted = info.frames === 0 ? channels[0].length : info.frames - done;
      const scale = 2 ** -(info.depth - 1);
      blocks.push(
        channels.map((channel) =>
          Float32Array.from(channel.subarray(0, wanted), (value) => value * scale),
        ),
      );
      done += channels[0].length;
      at = end;
    } catch (error) {
      // A frame that runs over the end: what came before is whole, and is told as cut off.
      if (error instanceof EndOfBits && info.frames > 0 && blocks.length > 0) break;
      throw error;
    }
  }
  return blocks;
}

/** One frame (section 9): its channels as whole numbers, and where the next one begins. */
function readFrame(bytes: Uint8Array, at: number, info: StreamInfo) {
  const bits = new BitReader(bytes, at);
  if (bits.unsigned(15) !== 0x7ffc) throw new BrokenFlac();
  bits.unsigned(1);
  const sizeCode = bits.unsigned(4);
  const rateCode = bits.unsigned(4);
  const assignment = bits.unsigned(4);
  const depthCode = bits.unsigned(3);
  if (bits.unsigned(1) !== 0 || sizeCode === 0 || rateCode === 15 || depthCode === 3)
    throw new BrokenFlac();
  skipNumber(bits);
  let length = blockSizes[sizeCode] ?? 2 ** sizeCode;
  if (sizeCode === 6) length = bits.unsigned(8) + 1;
  if (sizeCode === 7) length = bits.unsigned(16) + 1;
  // The rate stands in STREAMINFO too; here it is only passed over.
  if (rateCode === 12) bits.unsigned(8);
  if (rateCode === 13 || rateCode === 14) bits.unsigned(16);
  const headerEnd = bits.position;
  if (crc8(bytes, at, headerEnd) !== bits.unsigned(8)) throw new BrokenFlac();

  const depth = depths[depthCode] ?? info.depth;
  const count = assignment < 8 ? assignment + 1 : 2;
  if (assignment > 10 || count !== info.channels || depth !== info.depth) throw new BrokenFlac();
  const channels = Array.from({ length: count }, () => new Float64Array(length));
  channels.forEach((channel, c) => {
    const side = assignment === 9 ? c === 0 : assignment >= 8 && c === 1;
    readSubframe(bits, side ? depth + 1 : depth, channel);
  });
  bits.align();
  const end = bits.position;
  if (crc16(bytes, at, end) !== bits.unsigned(16)) throw new BrokenFlac();
  if (assignment >= 8) unfold(assignment, channels[0], channels[1]);
  return { channels, end: end + 2 };
}

/** The frame's number, coded as UTF-8 is. */
function skipNumber(bits: BitReader): void {
  const first = bits.unsigned(8);
  let more = 0;
  while (more < 8 && first & (0x80 >> more)) more++;
  if (more === 1 || more === 8) throw new BrokenFlac();
  for (let i = 1; i < more; i++) bits.unsigned(8);
}

/** Left and right out of left and side (8), side and right (9), or mid and side (10). */
function unfold(assignment: number, first: Float64Array, second: Float64Array): void {
  for (let i = 0; i < first.length; i++) {
    const a = first[i];
    const b = second[i];
    if (assignment === 8) second[i] = a - b;
    else if (assignment === 9) first[i] = a + b;
    else {
      const mid = 2 * a + Math.abs(b % 2);
      first[i] = (mid + b) / 2;
      second[i] = (mid - b) / 2;
    }
  }
}

function crcTable(polynomial: number, width: 8 | 16): Uint16Array {
  const top = 2 ** (width - 1);
  return Uint16Array.from({ length: 256 }, (_, n) => {
    let c = n << (width - 8);
    for (let k = 0; k < 8; k++) c = c & top ? (c << 1) ^ polynomial : c << 1;
    return c & (2 * top - 1);
  });
}

let table8: Uint16Array | undefined;
let table16: Uint16Array | undefined;

function crc8(bytes: Uint8Array, from: number, to: number): number {
  table8 ??= crcTable(0x07, 8);
  let c = 0;
  for (let i = from; i < to; i++) c = table8[c ^ bytes[i]];
  return c;
}

function crc16(bytes: Uint8Array, from: number, to: number): number {
  table16 ??= crcTable(0x8005, 16);
  let c = 0;
  for (let i = from; i < to; i++) c = ((c << 8) & 0xffff) ^ table16[(c >> 8) ^ bytes[i]];
  return c;
}
