import { type Accessor, createEffect, on, untrack } from 'solid-js';
import { lengthOf } from '../../shared/take/audio.ts';
import type { Library } from '../store/library.ts';
import type { ProjectStore } from '../store/project-store.ts';
import type { StemSound, TakeSound } from './desk.ts';
import { isAbort } from './job-client.ts';
import { stemSound } from './open-take.ts';
import { readKept } from './read-recording.ts';
import type { WorkerLine } from './workers.ts';

/**
 * Keeps the sound of the stems in step with the document, in its order: what an undo took away goes, and
 * what it brought back is read from the shelf again.
 */
export function createLiveStems(
  store: ProjectStore,
  sound: Accessor<TakeSound | null>,
  putSound: (sound: TakeSound) => void,
  shelf: Promise<Library | null>,
  line: WorkerLine,
  fail: (error: unknown) => void,
): void {
  let wish: AbortController | null = null;

  const follow = async (signal: AbortSignal) => {
    const project = untrack(store.project);
    const now = untrack(sound);
    if (!project || !now) return;
    const wanted = project.stems.map((stem) => stem.hash);
    const there = now.stems.map((stem) => stem.hash);
    if (wanted.join() === there.join()) return;
    const stems: StemSound[] = [];
    for (const source of project.stems) {
      const known = now.stems.find((stem) => stem.hash === source.hash);
      if (known) {
        stems.push(known);
        continue;
      }
      const audio = await readKept(line, signal, await shelf, source);
      if (!audio) continue;
      const read = { source, label: source.label, audio };
      stems.push(stemSound(read, project.take, lengthOf(now.mix)));
    }
    signal.throwIfAborted();
    if (stems.map((stem) => stem.hash).join() !== there.join()) putSound({ mix: now.mix, stems });
  };

  createEffect(
    on(
      () => store.project()?.stems,
      () => {
        wish?.abort();
        wish = new AbortController();
        follow(wish.signal).catch((error: unknown) => {
          if (!isAbort(error)) fail(error);
        });
      },
    ),
  );
}
