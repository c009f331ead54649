import { type Accessor, createEffect, createSignal, on, onCleanup } from 'solid-js';
import type { Library } from './library.ts';
import type { Project } from './project.ts';

/** `full`: the browser gives no more room. `failed`: anything else; it is tried again at the next edit. */
export type SaveState = 'nothing' | 'waiting' | 'saving' | 'saved' | 'full' | 'failed';

export interface Autosave {
  readonly state: Accessor<SaveState>;
  /** Saves what waits at once. */
  readonly flush: () => Promise<void>;
}

/** Edits that come quicker than this are saved together. */
const pause = 400;

/**
 * Saves the open document after each edit. A document that was just opened is not written back: nothing
 * is saved before loading has finished and something has changed. What waits is saved at once when the
 * page is hidden, since a hidden page may never be seen again.
 */
export function createAutosave(
  project: Accessor<Project | null>,
  library: () => Library | null,
): Autosave {
  const [state, setState] = createSignal<SaveState>('nothing');
  let waiting: Project | null = null;
  let timer: ReturnType<typeof setTimeout> | undefined;
  let writing: Promise<void> = Promise.resolve();

  const flush = (): Promise<void> => {
    clearTimeout(timer);
    const document = waiting;
    const shelf = library();
    if (!document || !shelf) return writing;
    waiting = null;
    setState('saving');
    writing = writing
      .then(() => shelf.save(document))
      .then(
        () => void (waiting === null && setState('saved')),
        (error: unknown) => {
          waiting ??= document;
          setState(isFull(error) ? 'full' : 'failed');
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

export function isFull(error: unknown): boolean {
  return error instanceof DOMException && error.name === 'QuotaExceededError';
}

/** Asks the browser to keep what is stored; true when it says yes. Ask after the first import: the user knows why then. */
export async function askToKeep(): Promise<boolean> {
  if (!navigator.storage?.persist) return false;
  return (await navigator.storage.persisted()) || navigator.storage.persist();
}
