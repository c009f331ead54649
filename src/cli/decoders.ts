import type { ByteSource } from '../../shared/take/byte-source.ts';
import { isMp3 } from '../../shared/take/mp3-read.ts';
import { isOgg } from '../../shared/take/ogg-packets.ts';
import { readRecordingFrom } from '../../shared/take/recording-read.ts';
import type { WavFile } from '../../shared/take/wav-read.ts';

/**
 * Reads a recording in any form that the command knows: WAV, FLAC, MP3 and Ogg Vorbis. What decodes the last
 * two is large and loaded only for them. Throws InputError.
 */
export async function readAnyRecording(source: ByteSource, name: string): Promise<WavFile> {
  const head = source.read(0, Math.min(4, source.length));
  const whole = () => source.read(0, source.length);
  if (isOgg(head)) return (await import('./decode-vorbis.ts')).decodeVorbis(whole(), name);
  if (isMp3(head)) return (await import('./decode-mp3.ts')).decodeMp3(whole(), name);
  return readRecordingFrom(source, name);
}
