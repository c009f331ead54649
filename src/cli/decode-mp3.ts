import minimp3 from 'minimp3-wasm/dist/decoder.opt.wasm?url&inline';
import { readMp3 } from '../../shared/take/mp3-read.ts';
import type { WavFile } from '../../shared/take/wav-read.ts';
import { moduleFrom } from './inline-wasm.ts';

let decoder: WebAssembly.Module | undefined;

/** Decodes an MP3. Throws InputError. */
export function decodeMp3(bytes: Uint8Array, name: string): WavFile {
  decoder ??= moduleFrom(minimp3);
  return readMp3(bytes, name, decoder);
}
