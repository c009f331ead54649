import { type Accessor, createEffect, createSignal, on, onCleanup, untrack } from 'solid-js';
import type { Hold } from './hold.ts';
import { isFull } from './is-full.ts';
import type { Library } from './library.ts';
import type { Project } from './project.ts';

/**
 * `full`: the browser gives no more room. `failed`: anything else; it is tried again by itself.
 * `elsewhere`: another window has the project open, and that one saves.
 */
export type SaveState =
  | 'nothing'
  | 'waiting'
  | 'saving'
  | 'saved'
  | 'full'
  | 'failed'
  | 'elsewhere';

export interface Autosave {
  readonly state: Accessor<SaveState>;
  /** Saves what waits at once. */
  readonly flush: () => Promise<void>;
}

/** Edits that come quicker than this are saved together. */
const pause = 400;
/** After a failure it is tried again after this long. */
const again = 10_000;

/**
 * Saves the open document after each edit. A document that was just opened is not written back: nothing
 * is saved before loading has finished and something has changed. What waits is saved at once when the
 * page is hidden, since a hidden page may never be seen again.
 */
export function createAutosave(
  project: Accessor<Project | null>,
  library: Accessor<Library | null>,
  hold: Accessor<Hold>,
): Autosave {
  const [state, setState] = createSignal<SaveState>('nothing');
  let waiting: Project | null = null;
  let timer: ReturnType<typeof setTimeout> | undefined;
  let writing: Promise<void> = Promise.resolve();

  const flush = (): Promise<void> => {
    clearTimeout(timer);
    const document = waiting;
    const shelf = untrack(library);
    if (untrack(hold) === 'elsewhere' && document) setState('elsewhere');
    if (!document || !shelf || untrack(hold) !== 'mine') return writing;
    waiting = null;
    setState('saving');
    writing = writing
      .then(() => shelf.save(document))
      .then(
        () => void (waiting === null && setState('saved')),
        (error: unknown) => {
          waiting ??= document;
          setState(isFull(error) ? 'full' : 'failed');
          clearTimeout(timer);
          timer = setTimeout(() => void flush(), again);
        },
      );
    return writing;
  };

  createEffect(
    on(project, (now, before) => {
      if (now === null || before === null || before === undefined || now.id !== before.id) {
        if (waiting) void flush();
        setState(now ? 'saved' : 'nothing');
        return;
      }
      waiting = now;
      setState('waiting');
      clearTimeout(timer);
      timer = setTimeout(() => void flush(), pause);
    }),
  );

  // What waited for the library to open, or for the project to be this window's.
  createEffect(on([library, hold], () => void flush()));

  const hide = () => {
    if (document.visibilityState === 'hidden') void flush();
  };
  document.addEventListener('visibilitychange', hide);
  addEventListener('pagehide', flush);
  onCleanup(() => {
    document.removeEventListener('visibilitychange', hide);
    removeEventListener('pagehide', flush);
    void flush();
  });
  return { state, flush };
}

/** Asks the browser to keep what is stored; true when it says yes. Ask after the first import: the user knows why then. */
export async function askToKeep(): Promise<boolean> {
  if (!navigator.storage?.persist) return false;
  return (await navigator.storage.persisted()) || navigator.storage.persist();
}
