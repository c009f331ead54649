import { InputError } from '../math/input-error.ts';
import { KernelRoom, type Kernels, kernels } from '../math/kernel.ts';
import type { Audio } from './audio.ts';
import { type ByteSource, sourceOf } from './byte-source.ts';
import { readWavLayoutFrom, type WavLayout } from './wav-layout.ts';

/** A recording as it came: its samples, and how they were stored. */
export interface WavFile {
  readonly audio: Audio;
  readonly bits: 8 | 16 | 24 | 32 | 64;
  readonly float: boolean;
}

/**
 * Decodes a whole WAV file: 8-bit unsigned, 16, 24, 32-bit integer, 32 and 64-bit float, 1 to 8
 * channels, 8 to 192 kHz, RF64 too. Integers divide by 2^(bits - 1), so 8, 16 and 24 bits are exact in
 * the float samples; 32-bit integers and 64-bit floats are rounded to the nearest 32-bit float. Floats
 * beyond full scale stay as they are. Besides `bytes` only the samples themselves take memory.
 *
 * Where a streaming writer left no size, the sound goes on to the end of the file. Throws InputError
 * (see `readWavLayout`), also for samples that are not numbers.
 *
 * @param name what the messages call the file
 */
export function readWav(bytes: Uint8Array, name: string): WavFile {
  return readWavFrom(sourceOf(bytes), name);
}

/** Bytes that are decoded at a time. */
const pieceSize = 1 << 20;

/** As `readWav`, piece by piece from where the file lies. */
export function readWavFrom(
  source: ByteSource,
  name: string,
  kernel: Kernels | null = kernels(),
): WavFile {
  const layout = readWavLayoutFrom(source, name);
  const { bits, float, frames, sampleRate } = layout;
  const channels = Array.from({ length: layout.channels }, () => new Float32Array(frames));
  const width = bits / 8;
  const align = width * layout.channels;
  const step = Math.floor(pieceSize / align);
  const byKernel = kernel && decoderFor(layout, kernel);
  const fast = byKernel ? fastReader(Math.min(step, frames), align, kernel, byKernel) : null;
  const room = fast?.room ?? new Uint8Array(Math.min(step, frames) * align);
  let odd = float && !fast;
  for (let from = 0; from < frames; from += step) {
    const count = Math.min(step, frames - from);
    const bytes = source.read(layout.start + from * align, count * align, room);
    if (fast && bytes.buffer !== room.buffer) room.set(bytes);
    const read = fast?.read ?? sampleReader(bytes, layout);
    channels.forEach((channel, c) => {
      if (read(channel.subarray(from, from + count), c * width, align)) odd = true;
    });
  }
  if (odd) for (const channel of channels) refuseNonNumbers(channel, sampleRate, name);
  return { audio: { sampleRate, channels }, bits, float };
}

/** What decodes one channel's bytes in the kernels' memory: 1 where something is not a number. */
type Decoder = (bytes: number, step: number, count: number, out: number) => number | undefined;

/** The kernel for the usual ways to store samples; null for the others. */
function decoderFor({ bits, float }: WavLayout, kernel: Kernels): Decoder | null {
  if (float) return bits === 32 ? kernel.samplesOfFloats : null;
  if (bits === 16) return kernel.samplesOf16 as Decoder;
  return bits === 24 ? (kernel.samplesOf24 as Decoder) : null;
}

/** A reader whose bytes lie in the kernels' memory: in `room`, where the file is read to. */
function fastReader(frames: number, align: number, kernel: Kernels, decode: Decoder) {
  const memory = new KernelRoom(kernel);
  const bytes = memory.place(frames * align);
  const out = memory.place(frames * 4);
  const samples = memory.floats(out, frames);
  const read: SampleReader = (channel, at, step) => {
    const odd = decode(bytes + at, step, channel.length, out);
    channel.set(samples.subarray(0, channel.length));
    return odd === 1;
  };
  return { room: memory.bytes(bytes, frames * align), read };
}

/**
 * Fills one channel from the bytes: first sample at `at`, the next ones `step` bytes apart. True where
 * one is known not to be a number.
 */
type SampleReader = (channel: Float32Array, at: number, step: number) => boolean | undefined;

function sampleReader(bytes: Uint8Array, { bits, float }: WavLayout): SampleReader {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  if (float && bits === 64)
    return (channel, at, step) => {
      for (let i = 0; i < channel.length; i++, at += step) channel[i] = view.getFloat64(at, true);
    };
  if (float)
    return (channel, at, step) => {
      for (let i = 0; i < channel.length; i++, at += step) channel[i] = view.getFloat32(at, true);
    };
  if (bits === 8)
    return (channel, at, step) => {
      for (let i = 0; i < channel.length; i++, at += step) channel[i] = (bytes[at] - 128) / 128;
    };
  if (bits === 16)
    return (channel, at, step) => {
      for (let i = 0; i < channel.length; i++, at += step)
        channel[i] = view.getInt16(at, true) / 32768;
    };
  if (bits === 24)
    return (channel, at, step) => {
      for (let i = 0; i < channel.length; i++, at += step)
        channel[i] = ((view.getInt16(at + 1, true) << 8) | bytes[at]) / 8388608;
    };
  return (channel, at, step) => {
    for (let i = 0; i < channel.length; i++, at += step)
      channel[i] = view.getInt32(at, true) / 2147483648;
  };
}

function refuseNonNumbers(channel: Float32Array, sampleRate: number, name: string): void {
  for (let i = 0; i < channel.length; i++) {
    // The difference is 0 for every number and not a number for NaN and the infinities.
    if (channel[i] - channel[i] !== 0)
      throw new InputError(
        `${name} holds a sample that is not a number at ${(i / sampleRate).toFixed(4)} s; export it again.`,
      );
  }
}
