import vorbis from 'ogv/dist/ogv-decoder-audio-vorbis-wasm.wasm?url&inline';
import type { LossyFile } from '../../shared/take/lossy-file.ts';
import { readVorbis } from '../../shared/take/vorbis-read.ts';
import { moduleFrom } from './inline-wasm.ts';

let decoder: WebAssembly.Module | undefined;

/** Decodes an Ogg Vorbis. Throws InputError. */
export function decodeVorbis(bytes: Uint8Array, name: string): LossyFile {
  decoder ??= moduleFrom(vorbis);
  return readVorbis(bytes, name, decoder);
}
