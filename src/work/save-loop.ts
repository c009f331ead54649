import type { Progress } from '../../shared/math/progress.ts';
import { savedLoopChunks } from '../../shared/pack/loop-files.ts';
import { uniqueNames } from '../../shared/pack/names.ts';
import { narrow } from '../../shared/take/channels.ts';
import type { Project } from '../store/project.ts';
import type { Loop, NamedFile, SaveOptions } from './desk.ts';
import type { WorkerLine } from './workers.ts';

/** A rendered loop as WAV files: the mix, and with `stems` each stem beside it. */
export async function saveLoop(
  line: WorkerLine,
  signal: AbortSignal,
  project: Project,
  loop: Loop,
  options: SaveOptions,
  progress: Progress,
): Promise<NamedFile[]> {
  const base = `${project.name}, ${loop.lane.name}, ${loop.lane.bpm} bpm`;
  const parts = [
    { name: base, audio: loop.mix },
    ...(options.stems ? loop.stems : []).map(({ hash, label, audio }) => ({
      name: `${base}, ${label}`,
      // A mono stem went along on all channels and leaves as it came.
      audio: narrow(audio, project.stems.find((stem) => stem.hash === hash)?.channels ?? 2),
    })),
  ];
  const names = uniqueNames(parts.map(({ name }) => `${name}.wav`));
  const files: NamedFile[] = [];
  for (const [i, { audio }] of parts.entries()) {
    const name = names[i] ?? 'loop.wav';
    progress(i / parts.length, `writing ${name}`);
    const title = name.replace(/\.wav$/, '');
    const chunks = savedLoopChunks(audio, loop.lane, loop.attacks, title, project.name);
    const bytes = await line.jobs.writeWav(signal, {
      audio,
      options: { bits: options.bits, chunks },
    });
    const blob = new Blob([bytes as Uint8Array<ArrayBuffer>], { type: 'audio/wav' });
    files.push({ name, blob });
  }
  return files;
}
