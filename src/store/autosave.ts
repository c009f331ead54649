import { type Accessor, createEffect, createSignal, on, onCleanup, untrack } from 'solid-js';
import type { Hold } from './hold.ts';
import { isFull } from './is-full.ts';
import type { Library } from './library.ts';
import type { Project } from './project.ts';

/**
 * `full`: the browser gives no more room. `failed`: anything else; it is tried again by itself.
 * `seen`: another window has the project, and that one saves; `elsewhere`: something done here waits meanwhile.
 * `nowhere`: this browser keeps nothing.
 */
export type SaveState =
  | 'nothing'
  | 'waiting'
  | 'saving'
  | 'saved'
  | 'full'
  | 'failed'
  | 'seen'
  | 'elsewhere'
  | 'nowhere';

export interface Autosave {
  readonly state: Accessor<SaveState>;
  /** Saves what waits at once. */
  readonly flush: () => Promise<void>;
  /**
   * Comes before something else is opened. What was done to a project that another window has goes into a copy,
   * whose name is told. `safe` is false where something could not be saved: opening would lose it.
   */
  readonly leave: () => Promise<{ readonly safe: boolean; readonly copy: string | null }>;
  /** What waits is not to be saved: its project is deleted. */
  readonly forget: () => void;
  /** What is kept, by another window's work too, is what this window goes on from. */
  readonly goOnFrom: (kept: Project) => void;
}

/** Edits that come quicker than this are saved together. */
const pause = 400;
/** After a failure it is tried again after this long. */
const again = 10_000;

/**
 * Saves the open document after each edit. A document that was just opened is not written back: nothing
 * is saved before loading has finished and something has changed. What waits is saved at once when the
 * page is hidden, since a hidden page may never be seen again. What another window's work would be written
 * over by is saved as a project of its own.
 *
 * @param library undefined as long as it is being opened, null where this browser keeps nothing
 */
export function createAutosave(
  project: Accessor<Project | null>,
  library: Accessor<Library | null | undefined>,
  hold: Accessor<Hold>,
): Autosave {
  const [state, setState] = createSignal<SaveState>('nothing');
  let waiting: Project | null = null;
  /** What is kept of the open project, as far as this window knows. */
  let known: Project | null = null;
  /** Another window has had the project since it was opened here. */
  let estranged = false;
  let copy: string | null = null;
  let timer: ReturnType<typeof setTimeout> | undefined;
  let writing: Promise<void> = Promise.resolve();

  /** Saves a document; in its place only where this window's is the newest work on it. */
  const write = (shelf: Library, document: Project, inPlace: () => Promise<boolean>) => {
    const mine = known?.id === document.id;
    clearTimeout(timer);
    waiting = null;
    setState('saving');
    writing = writing
      .then(async () => {
        if (await inPlace()) {
          await shelf.save(document);
          if (mine && known?.id === document.id) known = document;
          return;
        }
        const apart = apartFrom(document);
        await shelf.save(apart);
        copy = apart.name;
      })
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
  const always = async () => true;
  const never = async () => false;

  const flush = (): Promise<void> => {
    clearTimeout(timer);
    const document = waiting;
    const shelf = untrack(library);
    if (untrack(hold) === 'elsewhere' && document) setState('elsewhere');
    if (!document || !shelf || untrack(hold) !== 'mine') return writing;
    const before = known;
    const unchanged = async () => {
      // What was saved before this one's turn came was this window's work too.
      const last = known?.id === document.id ? known : before;
      const kept = await shelf.load(document.id);
      return kept === null || kept.project.changed === last?.changed;
    };
    return write(shelf, document, estranged ? unchanged : always);
  };

  /** Whether another window has the project may be told a moment later. */
  let answered = () => {};
  const answer = async () => {
    while (waiting && untrack(library) && untrack(project) && untrack(hold) === 'asking')
      await new Promise<void>((done) => {
        answered = done;
      });
  };

  const leave: Autosave['leave'] = async () => {
    await answer();
    return putAway();
  };
  /** As `leave`, for a page that ends and can wait for nothing. */
  const putAway: Autosave['leave'] = async () => {
    // What is done while the last is being saved is saved too; what could not be is still what waited.
    for (let last: Project | null | undefined; waiting !== last; ) {
      last = waiting;
      await flush();
    }
    const shelf = untrack(library);
    if (waiting && shelf && untrack(hold) !== 'mine') await write(shelf, waiting, never);
    const told = copy;
    copy = null;
    return { safe: waiting === null || !shelf, copy: told };
  };

  createEffect(
    on(project, (now, before) => {
      if (now === null || before === null || before === undefined || now.id !== before.id) {
        const shelf = untrack(library);
        // Done while something else was being opened.
        if (waiting && shelf) void write(shelf, waiting, estranged ? never : always);
        known = now;
        estranged = false;
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
  createEffect(
    on([library, hold], () => {
      if (untrack(hold) === 'elsewhere') estranged = true;
      void flush();
      answered();
    }),
  );

  const hide = () => {
    if (document.visibilityState === 'hidden') void flush();
  };
  document.addEventListener('visibilitychange', hide);
  const end = () => void putAway();
  const warn = (event: BeforeUnloadEvent) => {
    if (waiting && ['full', 'failed', 'nowhere'].includes(untrack(told))) event.preventDefault();
    // There is more time now than when the page is hidden.
    void flush();
  };
  addEventListener('pagehide', end);
  addEventListener('beforeunload', warn);
  onCleanup(() => {
    document.removeEventListener('visibilitychange', hide);
    removeEventListener('pagehide', end);
    removeEventListener('beforeunload', warn);
    void flush();
  });
  const told = (): SaveState => {
    if (library() === null && project()) return 'nowhere';
    return hold() === 'elsewhere' && project() && state() === 'saved' ? 'seen' : state();
  };
  const forget = () => {
    clearTimeout(timer);
    waiting = null;
  };
  const goOnFrom = (kept: Project) => {
    known = kept;
    estranged = false;
  };
  return { state: told, flush, leave, forget, goOnFrom };
}

/** A project of its own for what was done beside another window's work. */
function apartFrom(project: Project): Project {
  return { ...project, id: crypto.randomUUID(), name: `${project.name}, from another window` };
}

/** Asks the browser to keep what is stored; true when it says yes. Ask after the first import: the user knows why then. */
export async function askToKeep(): Promise<boolean> {
  if (!navigator.storage?.persist) return false;
  return (await navigator.storage.persisted()) || navigator.storage.persist();
}
