import { type ByteSource, sourceOf } from './byte-source.ts';
import { isFlac, readFlac } from './flac-read.ts';
import { readWavFrom, type WavFile } from './wav-read.ts';

/**
 * Reads a recording in any form that the engine itself knows: WAV and FLAC. Throws InputError for every
 * other, and for what is damaged; see `readWav` and `readFlac`.
 */
export function readRecording(bytes: Uint8Array, name: string): WavFile {
  return readRecordingFrom(sourceOf(bytes), name);
}

/** As `readRecording`, from where the file lies: of a WAV no more than a piece is in memory besides its samples. */
export function readRecordingFrom(source: ByteSource, name: string): WavFile {
  return isFlac(source.read(0, Math.min(4, source.length)))
    ? readFlac(source.read(0, source.length), name)
    : readWavFrom(source, name);
}
