import { InputError } from '../../shared/math/input-error.ts';
import type { Audio } from '../../shared/take/audio.ts';
import type { Library } from '../store/library.ts';
import { fileBytes } from './file-bytes.ts';
import { fileRate } from './file-header.ts';
import { untilAnswered } from './job-client.ts';
import type { FileHere, KeptFile } from './jobs.ts';
import { inSharedMemory } from './shared-memory.ts';
import type { WorkerLine } from './workers.ts';

/** A denied decoder may hang instead of failing, so decoding is given this long for each megabyte, in milliseconds. */
const patience = 5000;

/**
 * The samples of a recording at its own rate, its hash, and what is to be said about it (`cutOffNote`). WAV and FLAC are read by our own readers, bit for
 * bit; everything else by the browser's decoder. A large file goes to the worker as what it is, never as bytes,
 * which to copy would stop the page. Throws InputError for what is no recording.
 */
export async function readRecording(
  line: WorkerLine,
  signal: AbortSignal,
  file: FileHere,
): Promise<{ readonly audio: Audio; readonly hash: string; readonly note: string | null }> {
  const read = await untilAnswered(signal, () => line.jobs.read(signal, file));
  const { audio = null, hash = '', note = null } = read ?? {};
  if (audio) return { audio, hash, note };
  const bytes = await fileBytes(file.blob, file.name);
  return { audio: inSharedMemory(await decode(bytes, file.name, signal)), hash, note };
}

/** The same of a recording that the browser keeps; null where it does not. */
export async function readKept(
  line: WorkerLine,
  signal: AbortSignal,
  shelf: Library | null,
  { hash, name }: KeptFile,
): Promise<Audio | null> {
  const read = await untilAnswered(signal, () => line.jobs.read(signal, { hash, name }));
  if (!read) return null;
  if (read.audio) return read.audio;
  const bytes = await shelf?.getAudio(hash);
  return bytes ? inSharedMemory(await decode(bytes, name, signal)) : null;
}

/**
 * The browser's decoder resamples to the rate of the context that it is called on
 * (https://github.com/WebAudio/web-audio-api/issues/190), so that is the file's own where its header says it.
 */
async function decode(bytes: Uint8Array, name: string, signal: AbortSignal): Promise<Audio> {
  const rate = fileRate(bytes) ?? 44100;
  const context = new OfflineAudioContext(1, 1, rate);
  const refused = new InputError(
    `${name} is no recording that this browser can read; export it as WAV and open that.`,
  );
  // A copy, because decoding takes the buffer away (https://github.com/WebAudio/web-audio-api/issues/1175).
  const copy = bytes.slice().buffer;
  let timer: ReturnType<typeof setTimeout> | undefined;
  try {
    const decoded = await Promise.race([
      context.decodeAudioData(copy),
      new Promise<never>((_, reject) => {
        timer = setTimeout(() => reject(refused), patience * (1 + bytes.length / 1e6));
        signal.addEventListener('abort', () => reject(signal.reason), { once: true });
      }),
    ]);
    if (decoded.length === 0) throw refused;
    const channels = Array.from({ length: Math.min(decoded.numberOfChannels, 8) }, (_, c) =>
      decoded.getChannelData(c),
    );
    return { sampleRate: decoded.sampleRate, channels };
  } catch (error) {
    if (signal.aborted) throw signal.reason;
    throw error instanceof InputError ? error : refused;
  } finally {
    clearTimeout(timer);
  }
}
