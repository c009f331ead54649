import {
  type Accessor,
  batch,
  createEffect,
  createMemo,
  createSignal,
  on,
  onCleanup,
  untrack,
} from 'solid-js';
import { nearestBeat } from '../../shared/hear/beats/state.ts';
import type { ProjectStore } from '../store/project-store.ts';
import { isAbort, untilAnswered } from './job-client.ts';
import type { WorkerLine } from './workers.ts';

/** A chosen beat stays chosen where the inference moved it. */
function keepChosen(store: ProjectStore): void {
  const { selection } = store.session;
  if (selection.kind !== 'beat') return;
  const times = store.heard()?.beats.map((beat) => beat.time) ?? [];
  const time = times[nearestBeat(times, selection.time)];
  if (time !== undefined) store.setSession({ selection: { kind: 'beat', time } });
}

/** Infers the beats again whenever the fixes change, the newest wish first; the old beats stay till then. */
export function createLiveBeats(
  store: ProjectStore,
  line: WorkerLine,
  fail: (error: unknown) => void,
): { readonly inferring: Accessor<boolean> } {
  const [inferring, setInferring] = createSignal(false);
  let wish: AbortController | null = null;
  // Another edit of the document is none of the fixes, and gives up no wish.
  const fixesNow = createMemo(() => store.project()?.fixes);
  const isHeard = createMemo(() => store.heard() !== null);
  let known = untrack(fixesNow);

  createEffect(
    on([fixesNow, isHeard], async ([fixes, ready]) => {
      const before = known;
      known = fixes;
      wish?.abort();
      wish = null;
      setInferring(false);
      // What was heard on opening already holds the fixes of the document.
      if (!ready || !fixes || !before || fixes === before) return;
      const mine = new AbortController();
      wish = mine;
      setInferring(true);
      try {
        const beats = await untilAnswered(mine.signal, () =>
          line.jobs.infer(mine.signal, { fixes }),
        );
        const heard = untrack(store.heard);
        if (heard && wish === mine)
          batch(() => {
            store.setHeard({ ...heard, beats });
            keepChosen(store);
          });
      } catch (error) {
        if (!isAbort(error)) fail(error);
      } finally {
        if (wish === mine) {
          wish = null;
          setInferring(false);
        }
      }
    }),
  );
  onCleanup(() => wish?.abort());
  return { inferring };
}
