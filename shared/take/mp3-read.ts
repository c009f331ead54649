import { InputError } from '../math/input-error.ts';
import type { Seconds } from '../math/units.ts';
import type { LossyFile } from './lossy-file.ts';
import { isTagged, readMp3Frames } from './mp3-frames.ts';

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

/** Whether a file is MPEG audio, layer III: a frame header (ISO/IEC 11172-3, 2.4.1.3), or an ID3v2 tag before it. */
export function isMp3(head: Uint8Array): boolean {
  if (isTagged(head)) return true;
  return head[0] === 0xff && (head[1] & 0xe6) === 0xe2 && (head[1] & 0x18) !== 0x08;
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
  const { tag, cutOff } = readMp3Frames(bytes);
  const before = tag?.before ?? 0;
  // What is added at the end is not there where the end is not.
  const behind = cutOff ? 0 : (tag?.behind ?? 0);
  const length = Math.max(0, Math.floor(decoded) - before - behind);
  const out = Array.from({ length: channels }, () => new Float32Array(length));
  let frame = -before;
  for (const one of pieces)
    for (let i = 0; i < one.length; i += channels, frame++) {
      if (frame < 0 || frame >= length) continue;
      for (let c = 0; c < channels; c++) out[c][frame] = one[i + c] / 32768;
    }
  return { audio: { sampleRate: rate, channels: out }, bits: 24, float: false, cutOff };
}
