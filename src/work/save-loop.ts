import type { Progress } from '../../shared/math/progress.ts';
import type { Loop, NamedFile, SaveOptions } from './desk.ts';
import type { WorkerLine } from './workers.ts';

/** A name that any file system takes: no signs that mean something to one, no dots or blanks at its ends. */
export function fileName(text: string): string {
  const plain = text.replace(/[\\/:*?"<>|\p{Cc}]/gu, ' ').replace(/\s+/g, ' ');
  return plain.replace(/^[. ]+|[. ]+$/g, '').slice(0, 120) || 'untitled';
}

/** A rendered loop as WAV files: the mix, and with `stems` each stem beside it. */
export async function saveLoop(
  line: WorkerLine,
  signal: AbortSignal,
  project: string,
  loop: Loop,
  options: SaveOptions,
  progress: Progress,
): Promise<NamedFile[]> {
  const base = `${project}, ${loop.lane.name}, ${loop.lane.bpm} bpm`;
  const parts = [
    { name: base, audio: loop.mix },
    ...(options.stems ? loop.stems : []).map(({ label, audio }) => ({
      name: `${base}, ${label}`,
      audio,
    })),
  ];
  const files: NamedFile[] = [];
  for (const [i, { name, audio }] of parts.entries()) {
    progress(i / parts.length, `writing ${name}`);
    const bytes = await line.jobs.writeWav(signal, { audio, options: { bits: options.bits } });
    const blob = new Blob([bytes as Uint8Array<ArrayBuffer>], { type: 'audio/wav' });
    files.push({ name: `${fileName(name)}.wav`, blob });
  }
  return files;
}
