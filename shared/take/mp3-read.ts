import { InputError } from '../math/input-error.ts';
import type { Samples, Seconds } from '../math/units.ts';
import type { LossyFile } from './vorbis-read.ts';

/** The decoder `minimp3-wasm` 0.1.0 (Apache-2.0; minimp3 in it, CC0). */
interface Decoder {
  readonly memory: WebAssembly.Memory;
  readonly decoder_init: () => void;
  readonly decoder_set_mp3_data_size: (size: number) => void;
  readonly decoder_mp3_data_offset: () => number;
  readonly decoder_seek: (to: Seconds) => void;
  readonly decoder_decode: (seconds: Seconds) => void;
  readonly decoder_pcm_data_offset: () => number;
  readonly decoder_pcm_data_size: () => number;
  readonly decode_results_sampling_rate: () => number;
  readonly decode_results_num_channels: () => number;
  readonly decode_results_num_samples: () => number;
}

/** Decoded at a time. */
const piece: Seconds = 10;
/** What every decoder is late by (ISO/IEC 11172-3 leaves it open; 528 and 1 by common practice, as the LAME tag counts it). */
const decoderDelay: Samples = 529;

/** Where the sound begins, after an ID3v2 tag (id3.org, 3.1). */
function soundAt(bytes: Uint8Array): number {
  const tagged = [0x49, 0x44, 0x33].every((byte, i) => bytes[i] === byte);
  if (!tagged) return 0;
  return 10 + ((bytes[6] << 21) | (bytes[7] << 14) | (bytes[8] << 7) | bytes[9]);
}

/** Whether a file is MPEG audio, layer III: a frame header (ISO/IEC 11172-3, 2.4.1.3), or an ID3v2 tag before it. */
export function isMp3(head: Uint8Array): boolean {
  if ([0x49, 0x44, 0x33].every((byte, i) => head[i] === byte)) return true;
  return head[0] === 0xff && (head[1] & 0xe6) === 0xe2 && (head[1] & 0x18) !== 0x08;
}

/** What a first frame says that holds a tag instead of sound: samples to leave out before and behind. */
interface Padding {
  readonly before: Samples;
  readonly behind: Samples;
}

/**
 * The encoder's delay and padding from the Info or Xing frame, where its LAME extension states them (LAME
 * technical FAQ and "Mp3 Info Tag rev 1"). Null where the first frame is sound.
 */
function paddingOf(bytes: Uint8Array): Padding | null {
  const at = soundAt(bytes);
  const mpeg1 = (bytes[at + 1] & 0x08) !== 0;
  const mono = bytes[at + 3] >> 6 === 3;
  const tag = at + 4 + (mpeg1 ? (mono ? 17 : 32) : mono ? 9 : 17);
  const text = String.fromCharCode(...bytes.subarray(tag, tag + 4));
  if (text !== 'Info' && text !== 'Xing') return null;
  const frame = mpeg1 ? 1152 : 576;
  // Frames, bytes, table of contents, quality: each there where its flag says so.
  const flags = bytes[tag + 7];
  let lame = tag + 8;
  if (flags & 1) lame += 4;
  if (flags & 2) lame += 4;
  if (flags & 4) lame += 100;
  if (flags & 8) lame += 4;
  const [a, b, c] = bytes.subarray(lame + 21, lame + 24);
  const delay = (a << 4) | (b >> 4);
  const padding = ((b & 15) << 8) | c;
  const stated = lame + 24 <= bytes.length && delay > 0 && delay < 4096;
  if (!stated) return { before: frame, behind: 0 };
  return { before: frame + delay + decoderDelay, behind: Math.max(0, padding - decoderDelay) };
}

/**
 * Reads an MP3 file, without what encoder and decoder added at its ends where the file says how much that
 * is: then it is as long as what was encoded. Throws InputError for what is damaged or none.
 *
 * @param decoder the compiled decoder
 */
export function readMp3(bytes: Uint8Array, name: string, decoder: WebAssembly.Module): LossyFile {
  const pieces: Int16Array[] = [];
  let channels = 0;
  let rate = 0;
  try {
    const wasm = new WebAssembly.Instance(decoder, {}).exports as unknown as Decoder;
    wasm.decoder_init();
    wasm.decoder_set_mp3_data_size(bytes.length);
    new Uint8Array(wasm.memory.buffer, wasm.decoder_mp3_data_offset(), bytes.length).set(bytes);
    wasm.decoder_seek(0);
    for (;;) {
      wasm.decoder_decode(piece);
      if (wasm.decode_results_num_samples() === 0) break;
      channels ||= wasm.decode_results_num_channels();
      rate ||= wasm.decode_results_sampling_rate();
      const [at, size] = [wasm.decoder_pcm_data_offset(), wasm.decoder_pcm_data_size()];
      pieces.push(new Int16Array(wasm.memory.buffer, at, size >> 1).slice());
    }
  } catch {
    pieces.length = 0;
  }
  if (pieces.length === 0 || channels < 1 || channels > 2 || rate < 8000)
    throw new InputError(`${name} is damaged or no MP3 file; export it as WAV.`);
  const decoded = pieces.reduce((sum, one) => sum + one.length, 0) / channels;
  const { before, behind } = paddingOf(bytes) ?? { before: 0, behind: 0 };
  const length = Math.max(0, Math.floor(decoded) - before - behind);
  const out = Array.from({ length: channels }, () => new Float32Array(length));
  let frame = -before;
  for (const one of pieces)
    for (let i = 0; i < one.length; i += channels, frame++) {
      if (frame < 0 || frame >= length) continue;
      for (let c = 0; c < channels; c++) out[c][frame] = one[i + c] / 32768;
    }
  return { audio: { sampleRate: rate, channels: out }, bits: 24, float: false };
}
