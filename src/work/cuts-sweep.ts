import { untrack } from 'solid-js';
import type { Percent } from '../../shared/math/units.ts';
import type { Gesture, ProjectStore } from '../store/project-store.ts';
import { setCuts } from '../store/slice-commands.ts';
import type { WorkerLine } from './workers.ts';

/**
 * Fewer or more cuts while a control moves: each movement asks for suggestions, the newest wish wins,
 * and the whole sweep is one undo step. It is called at each movement, with `done` at the end.
 */
export function makeCutsSweep(
  store: ProjectStore,
  line: WorkerLine,
  fail: (error: unknown) => void,
): (cuts: Percent, done?: boolean) => void {
  let sweep: { gesture: Gesture; wish: AbortController | null; done: boolean } | null = null;

  return (cuts, done = false) => {
    const heard = untrack(store.heard);
    if (!heard) return;
    // Another edit, or another project, has ended the one before.
    const mine = sweep?.gesture.open()
      ? sweep
      : { gesture: store.gesture('change how many cuts'), wish: null, done: false };
    sweep = done ? null : mine;
    mine.done = done;
    mine.wish?.abort();
    const wish = new AbortController();
    mine.wish = wish;
    const { onsets, phrases, beats, levels } = heard;
    line.jobs.suggest(wish.signal, { heard: { onsets, phrases, beats, levels }, cuts }).then(
      (suggested) => {
        mine.gesture.show(setCuts(cuts, suggested));
        if (mine.done) mine.gesture.done();
      },
      (error: unknown) => {
        fail(error);
        if (mine.done && mine.wish === wish) mine.gesture.done();
      },
    );
  };
}
