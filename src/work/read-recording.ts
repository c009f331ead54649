import { InputError } from '../../shared/math/input-error.ts';
import type { Progress } from '../../shared/math/progress.ts';
import type { Audio } from '../../shared/take/audio.ts';
import { isFlac } from '../../shared/take/flac-read.ts';
import { fileRate, isWav } from './file-header.ts';
import { inSharedMemory } from './shared-memory.ts';
import type { WorkerLine } from './workers.ts';

/** A denied decoder may hang instead of failing, so decoding is given this long for each megabyte, in milliseconds. */
const patience = 5000;

/**
 * The samples of a recording at its own rate. WAV and FLAC are read by our own readers, bit for bit;
 * everything else by the browser's decoder. `bytes` stay as they are. The hash is told where the worker
 * has read the file: here a large one would stop the page. Throws InputError for what is no recording.
 */
export async function readRecording(
  line: WorkerLine,
  signal: AbortSignal,
  bytes: Uint8Array,
  name: string,
  progress?: Progress,
): Promise<{ readonly audio: Audio; readonly hash?: string }> {
  if (bytes.length === 0)
    throw new InputError(`${name} is empty; choose a file that holds a recording.`);
  if (isWav(bytes) || isFlac(bytes)) return line.jobs.read(signal, { bytes, name }, progress);
  return { audio: inSharedMemory(await decode(bytes, name, signal)) };
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
