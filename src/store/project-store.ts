import { type Accessor, batch, createMemo, createSignal, untrack } from 'solid-js';
import { createStore, type SetStoreFunction, unwrap } from 'solid-js/store';
import type { Command } from './command.ts';
import type { Heard } from './heard.ts';
import * as log from './history.ts';
import type { Project } from './project.ts';
import { freshSession, type Session } from './session.ts';

/**
 * The open project as the page sees it: the document (replaced whole at each edit, unchanged parts
 * shared), what was heard, the session, undo and redo.
 */
export interface ProjectStore {
  /** The document; null while none is open. */
  readonly project: Accessor<Project | null>;
  /** What was heard; null until it has been. */
  readonly heard: Accessor<Heard | null>;
  readonly setHeard: (heard: Heard | null) => void;
  readonly session: Session;
  readonly setSession: SetStoreFunction<Session>;
  /** Opens a document with an empty history and a fresh session; null closes. */
  readonly open: (project: Project | null) => void;
  /** Remembers what is open, with its undo steps and its session; the answer puts it all back. */
  readonly remember: () => () => void;
  /** Makes an edit. See `How`; a plain call is one undo step. */
  readonly edit: (command: Command, how?: log.How) => void;
  /** Begins a gesture: all its edits become one undo step, or none. */
  readonly gesture: (label: string) => Gesture;
  /** Each returns the label of what it took back or did again, null for nothing. */
  readonly undo: () => string | null;
  readonly redo: () => string | null;
  readonly undoLabel: Accessor<string | null>;
  readonly redoLabel: Accessor<string | null>;
  /** Ends the gesture under way, and keeps what it has done so far. */
  readonly settle: () => void;
}

/** A drag, a sweep, a run of taps. */
export interface Gesture {
  /** Whether it is under way still: another edit (but one made beside it), or an undo, ends it. */
  readonly open: () => boolean;
  /** Shows an edit within the gesture. Each replaces the one before: it starts from where the gesture began. */
  readonly show: (command: Command) => void;
  /** Adds an edit to those before it. */
  readonly add: (command: Command) => void;
  /** The gesture is done: one undo step. */
  readonly done: () => void;
  /** As if it had never begun (Escape). */
  readonly cancel: () => void;
}

/**
 * @param now the moment written into `changed`; a parameter so that tests can hold the clock
 * @param refuse true where the document may only be looked at just now: no edit, undo or redo changes it
 */
export function createProjectStore(
  now: () => Date = () => new Date(),
  refuse: () => boolean = () => false,
): ProjectStore {
  const [history, setHistory] = createSignal<log.History | null>(null, { equals: false });
  const [heard, setHeard] = createSignal<Heard | null>(null);
  const [session, setSession] = createStore<Session>({ ...freshSession });
  const project = createMemo(() => history()?.present ?? null);
  let gesturing: Gesture | null = null;
  /** What the gesture under way is called; it is looked at only while something of it waits. */
  let doing = '';

  const update = (change: (history: log.History) => log.History) => {
    const before = untrack(history);
    if (!before) return;
    const after = change(before);
    if (after === before || refuse()) return;
    // The moment of change is not an edit of its own: it rides along on the document in view.
    const present =
      after.present === before.present
        ? after.present
        : { ...after.present, changed: now().toISOString() };
    setHistory({ ...after, present });
  };

  return {
    project,
    heard,
    setHeard: (next) => setHeard(() => next),
    session,
    setSession,
    open: (next) => {
      gesturing = null;
      setHeard(null);
      setSession({ ...freshSession });
      setHistory(next && log.startHistory(next));
    },
    remember: () => {
      gesturing?.done();
      const [known, ears, view] = untrack(() => [history(), heard(), { ...unwrap(session) }]);
      return () =>
        batch(() => {
          gesturing = null;
          setHeard(() => ears);
          setSession(view);
          setHistory(known);
        });
    },
    edit: (command, how) => {
      if (how !== 'beside') gesturing?.done();
      update((h) => log.perform(h, command, how));
    },
    gesture: (label) => {
      gesturing?.done();
      doing = label;
      const mine: Gesture = {
        open: () => gesturing === mine,
        show: (command) => {
          if (gesturing === mine) update((h) => log.perform(log.bail(h), command, 'gather'));
        },
        add: (command) => {
          if (gesturing === mine) update((h) => log.perform(h, command, 'gather'));
        },
        done: () => {
          if (gesturing !== mine) return;
          gesturing = null;
          update((h) => log.release(h, label));
        },
        cancel: () => {
          if (gesturing !== mine) return;
          gesturing = null;
          update(log.bail);
        },
      };
      gesturing = mine;
      return mine;
    },
    undo: () => {
      gesturing?.done();
      if (refuse()) return null;
      const label = untrack(() => undoLabelOf(history()));
      update(log.undo);
      return label;
    },
    redo: () => {
      gesturing?.done();
      if (refuse()) return null;
      const label = untrack(() => redoLabelOf(history()));
      update(log.redo);
      return label;
    },
    settle: () => gesturing?.done(),
    undoLabel: createMemo(() => {
      const now = history();
      return now?.gathered != null && gesturing ? doing : undoLabelOf(now);
    }),
    redoLabel: createMemo(() => redoLabelOf(history())),
  };
}

const undoLabelOf = (history: log.History | null) => (history ? log.undoLabel(history) : null);
const redoLabelOf = (history: log.History | null) => (history ? log.redoLabel(history) : null);
