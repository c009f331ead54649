import type { Command } from './command.ts';
import type { Project } from './project.ts';

/**
 * Undo and redo over whole documents. A document is never changed in place and shares what it can with
 * the one before, so keeping it costs what the edit changed.
 */
export interface History {
  readonly past: readonly Entry[];
  readonly present: Project;
  readonly future: readonly Entry[];
  /** The document before edits that wait to be part of the next step; null when none waits. */
  readonly gathered: Project | null;
}

interface Entry {
  readonly label: string;
  readonly document: Project;
}

/**
 * How an edit enters the history. `step`: an undo step of its own; `gather`: part of the next step (a
 * drag or a sweep under way); `beside`: a step of its own that comes before what is gathered, which goes on;
 * `pass`: no step, neither undone nor redone by itself.
 */
export type How = 'step' | 'gather' | 'beside' | 'pass';

/** Steps kept; older ones are forgotten. */
const limit = 500;

export function startHistory(present: Project): History {
  return { past: [], present, future: [], gathered: null };
}

/**
 * Applies a command. An edit that changes nothing leaves the history as it is, so redo survives it;
 * any real edit but a `pass` clears redo.
 */
export function perform(history: History, command: Command, how: How = 'step'): History {
  if (how === 'beside' && history.gathered) return slipIn(history, history.gathered, command);
  const next = command.apply(history.present);
  if (next === history.present) return how === 'step' ? release(history, command.label) : history;
  if (how === 'pass') return { ...history, present: next };
  if (how === 'gather')
    return { ...history, present: next, future: [], gathered: history.gathered ?? history.present };
  return commit(history, next, command.label);
}

/** A step from the document before what is gathered: as if it had been made before the gesture began. */
function slipIn(history: History, gathered: Project, command: Command): History {
  const before = command.apply(gathered);
  const present = command.apply(history.present);
  if (before === gathered && present === history.present) return history;
  const step = { label: command.label, document: gathered };
  return { past: [...history.past, step].slice(-limit), present, future: [], gathered: before };
}

/** Makes one step of everything gathered. */
export function release(history: History, label: string): History {
  if (history.gathered === null) return history;
  if (history.gathered === history.present) return { ...history, gathered: null };
  return commit(history, history.present, label);
}

/** Goes back to before the first gathered edit, as if the gesture had never begun. */
export function bail(history: History): History {
  if (history.gathered === null) return history;
  return { ...history, present: history.gathered, gathered: null };
}

function commit(history: History, present: Project, label: string): History {
  const before = { label, document: history.gathered ?? history.present };
  return { past: [...history.past, before].slice(-limit), present, future: [], gathered: null };
}

/** One step back. What was gathered and not yet released is a step of its own. */
export function undo(history: History): History {
  const settled = release(history, 'change');
  const last = settled.past[settled.past.length - 1];
  if (!last) return settled;
  return {
    past: settled.past.slice(0, -1),
    present: last.document,
    future: [{ label: last.label, document: settled.present }, ...settled.future],
    gathered: null,
  };
}

/** One step forwards again. */
export function redo(history: History): History {
  const [next, ...rest] = history.future;
  if (!next) return history;
  return {
    past: [...history.past, { label: next.label, document: history.present }],
    present: next.document,
    future: rest,
    gathered: null,
  };
}

/** What undo would take back, null when there is nothing. */
export function undoLabel(history: History): string | null {
  if (history.gathered !== null) return 'change';
  return history.past[history.past.length - 1]?.label ?? null;
}

/** What redo would do again, null when there is nothing. */
export function redoLabel(history: History): string | null {
  return history.future[0]?.label ?? null;
}
