import type { ByteSource } from '../../shared/take/byte-source.ts';
import { cutOffNote } from '../../shared/take/cut-off.ts';
import { isMp3 } from '../../shared/take/mp3-read.ts';
import { isOgg } from '../../shared/take/ogg-packets.ts';
import { readRecordingFrom } from '../../shared/take/recording-read.ts';
import type { WavFile } from '../../shared/take/wav-read.ts';
import { say } from './say.ts';

/**
 * Reads a recording in any form that the command knows: WAV, FLAC, MP3 and Ogg Vorbis. What decodes the last
 * two is large and loaded only for them; where the end of such a file is missing that is said on stderr. Throws
 * InputError.
 */
export async function readAnyRecording(source: ByteSource, name: string): Promise<WavFile> {
  const head = source.read(0, Math.min(4, source.length));
  if (!isOgg(head) && !isMp3(head)) return readRecordingFrom(source, name);
  const whole = source.read(0, source.length);
  const read = isOgg(head)
    ? (await import('./decode-vorbis.ts')).decodeVorbis(whole, name)
    : (await import('./decode-mp3.ts')).decodeMp3(whole, name);
  if (read.cutOff) say(cutOffNote(read.cutOff, name));
  return read;
}
