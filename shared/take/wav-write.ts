import { InputError } from '../math/input-error.ts';
import { KernelRoom, type Kernels, kernels } from '../math/kernel.ts';
import { makeRandom } from '../math/random.ts';
import { type Audio, lengthOf } from './audio.ts';

/** How samples are stored in a file: 16 or 24-bit integers, or 32-bit float. */
export type WavBits = '16' | '24' | '32f';

/** A chunk beside the sound: its four letters and its content. */
export interface WavChunk {
  readonly id: string;
  readonly data: Uint8Array;
}

export interface WavOptions {
  readonly bits: WavBits;
  /** `bext` stands before the sound, all others after it, in the order given. */
  readonly chunks?: readonly WavChunk[];
  /** Seed of the dither. */
  readonly seed?: number;
}

/** What stores a file's samples at least as finely as it does itself. */
export function bitsLike(file: { readonly bits: number; readonly float: boolean }): WavBits {
  if (file.float || file.bits > 24) return '32f';
  return file.bits === 24 ? '24' : '16';
}

/**
 * A whole WAV file. A sample that lies exactly on the target's grid is written as it is, so untouched
 * samples come back bit for bit; every other one gets triangular dither of two least significant bits
 * peak to peak (TPDF; Lipshitz, Wannamaker and Vanderkooy 1992), from a seed, so that the same input
 * gives the same bytes. Integers clip at full scale; floats are never clipped.
 *
 * Throws InputError where the file would pass the 4 GiB of its size field, RangeError for no channels.
 */
export function writeWav(
  audio: Audio,
  options: WavOptions,
  kernel: Kernels | null = kernels(),
): Uint8Array {
  const { channels, sampleRate } = audio;
  if (channels.length === 0) throw new RangeError('A WAV file needs at least one channel.');
  const frames = lengthOf(audio);
  const float = options.bits === '32f';
  const width = bytesIn(options.bits);
  const chunks = options.chunks ?? [];
  const before = [
    { id: 'fmt ', data: formatChunk(channels.length, sampleRate, width, float) },
    ...(float ? [{ id: 'fact', data: factChunk(frames) }] : []),
    ...chunks.filter((chunk) => chunk.id === 'bext'),
  ];
  const after = chunks.filter((chunk) => chunk.id !== 'bext');
  const dataSize = frames * channels.length * width;
  const sizeOf = (list: readonly WavChunk[]) =>
    list.reduce((sum, c) => sum + 8 + even(c.data.length), 0);
  const total = 12 + sizeOf(before) + 8 + even(dataSize) + sizeOf(after);
  if (total - 8 > 0xffff_ffff)
    throw new InputError(
      'The sound is too long for one WAV file (4 GiB); render a shorter stretch.',
    );

  const bytes = new Uint8Array(total);
  const view = new DataView(bytes.buffer);
  setLetters(bytes, 0, 'RIFF');
  view.setUint32(4, total - 8, true);
  setLetters(bytes, 8, 'WAVE');
  let at = 12;
  const put = ({ id, data }: WavChunk) => {
    setLetters(bytes, at, id);
    view.setUint32(at + 4, data.length, true);
    bytes.set(data, at + 8);
    at += 8 + even(data.length);
  };
  before.forEach(put);
  setLetters(bytes, at, 'data');
  view.setUint32(at + 4, dataSize, true);
  if (kernel) writeSamplesFast(bytes, at + 8, channels, options, kernel);
  else writeSamples(bytes, at + 8, channels, options);
  at += 8 + even(dataSize);
  after.forEach(put);
  return bytes;
}

const bytesIn = (bits: WavBits) => (bits === '32f' ? 4 : Number(bits) / 8);

/** Chunks start on even positions; the pad byte is not counted in a chunk's size. */
function even(size: number): number {
  return size + (size & 1);
}

function setLetters(bytes: Uint8Array, at: number, letters: string): void {
  for (let i = 0; i < letters.length; i++) bytes[at + i] = letters.charCodeAt(i);
}

/** WAVE_FORMAT_EXTENSIBLE for more than two channels, with no claim where the speakers stand. */
function formatChunk(channels: number, rate: number, width: number, float: boolean): Uint8Array {
  const wide = channels > 2;
  const data = new Uint8Array(wide ? 40 : float ? 18 : 16);
  const view = new DataView(data.buffer);
  const tag = float ? 3 : 1;
  view.setUint16(0, wide ? 0xfffe : tag, true);
  view.setUint16(2, channels, true);
  view.setUint32(4, rate, true);
  view.setUint32(8, rate * channels * width, true);
  view.setUint16(12, channels * width, true);
  view.setUint16(14, width * 8, true);
  if (wide) {
    view.setUint16(16, 22, true);
    view.setUint16(18, width * 8, true);
    view.setUint16(24, tag, true);
    // The rest of KSDATAFORMAT_SUBTYPE_PCM and _IEEE_FLOAT, 0000xxxx-0000-0010-8000-00AA00389B71.
    data.set([0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xaa, 0, 0x38, 0x9b, 0x71], 26);
  }
  return data;
}

function factChunk(frames: number): Uint8Array {
  const data = new Uint8Array(4);
  new DataView(data.buffer).setUint32(0, frames, true);
  return data;
}

/** What a sample of a width is times, to lie on its grid. */
const fullScaleOf = (bits: '16' | '24') => 2 ** (Number(bits) - 1);

/** The seed of a channel's dither: dither common to two channels would sit in the middle. */
const ditherSeed = (seed: number, channel: number) => seed * 7919 + channel;

/** Stores the channels from `start` on, frame by frame. */
function writeSamples(
  bytes: Uint8Array,
  start: number,
  channels: readonly Float32Array[],
  { bits, seed = 1 }: WavOptions,
): void {
  const view = new DataView(bytes.buffer);
  const width = bytesIn(bits);
  const step = width * channels.length;
  channels.forEach((channel, c) => {
    let at = start + c * width;
    if (bits === '32f') {
      for (let i = 0; i < channel.length; i++, at += step) view.setFloat32(at, channel[i], true);
      return;
    }
    const full = fullScaleOf(bits);
    const random = makeRandom(ditherSeed(seed, c));
    for (let i = 0; i < channel.length; i++, at += step) {
      const exact = channel[i] * full;
      let value = Number.isInteger(exact) ? exact : Math.round(exact + random() - random());
      if (value > full - 1) value = full - 1;
      if (value < -full) value = -full;
      if (width === 2) view.setInt16(at, value, true);
      else {
        view.setUint8(at, value & 0xff);
        view.setInt16(at + 1, value >> 8, true);
      }
    }
  });
}

/** Bytes that are stored at a time. */
const pieceSize = 1 << 20;

/** As `writeSamples`, to the last bit, a piece at a time in the kernels' memory. */
function writeSamplesFast(
  bytes: Uint8Array,
  start: number,
  channels: readonly Float32Array[],
  { bits, seed = 1 }: WavOptions,
  kernel: Kernels,
): void {
  const frames = channels[0].length;
  const width = bytesIn(bits);
  const step = width * channels.length;
  const room = new KernelRoom(kernel);
  const most = Math.min(frames, Math.floor(pieceSize / step));
  const stored = room.place(most * step);
  const samples = room.place(most * 4);
  const streams = channels.map((_, c) => room.keepJob([], [ditherSeed(seed, c)]));
  const store = (count: number, stream: number, to: number) => {
    if (bits === '16') kernel.samplesTo16(samples, count, stream, step, to);
    else if (bits === '24') kernel.samplesTo24(samples, count, stream, step, to);
    else kernel.samplesToFloats(samples, count, step, to);
  };
  for (let from = 0; from < frames; from += most) {
    const count = Math.min(most, frames - from);
    channels.forEach((channel, c) => {
      room.floats(samples, count).set(channel.subarray(from, from + count));
      store(count, streams[c], stored + c * width);
    });
    bytes.set(room.bytes(stored, count * step), start + from * step);
  }
}
