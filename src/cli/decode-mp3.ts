import minimp3 from 'minimp3-wasm/dist/decoder.opt.wasm?url&inline';
import type { LossyFile } from '../../shared/take/lossy-file.ts';
import { readMp3 } from '../../shared/take/mp3-read.ts';
import { moduleFrom } from './inline-wasm.ts';

let decoder: WebAssembly.Module | undefined;

/** Decodes an MP3. Throws InputError. */
export function decodeMp3(bytes: Uint8Array, name: string): LossyFile {
  decoder ??= moduleFrom(minimp3);
  return readMp3(bytes, name, decoder);
}
