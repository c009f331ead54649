import { isFlac, readFlac } from './flac-read.ts';
import { readWav, type WavFile } from './wav-read.ts';

/**
 * Reads a recording in any form that the engine itself knows: WAV and FLAC. Throws InputError for every
 * other, and for what is damaged; see `readWav` and `readFlac`.
 */
export function readRecording(bytes: Uint8Array, name: string): WavFile {
  return isFlac(bytes) ? readFlac(bytes, name) : readWav(bytes, name);
}
