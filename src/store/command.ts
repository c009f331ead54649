import type { Project } from './project.ts';

/**
 * One edit of the document: what it does, in words that follow "undo" or "redo", and the edit itself.
 * `apply` is pure: the same document gives the same result, and an edit that changes nothing (or no
 * longer applies, its slice being gone) returns the very document it was given.
 */
export interface Command {
  readonly label: string;
  readonly apply: (project: Project) => Project;
}

/** Several commands as one. */
export function together(label: string, commands: readonly Command[]): Command {
  return { label, apply: (project) => commands.reduce((now, one) => one.apply(now), project) };
}

/** A name that nothing in the project bears yet: `prefix` and a number one above the highest in use. */
export function freshId(prefix: string, used: Iterable<string>): string {
  let highest = 0;
  for (const id of used) {
    if (!id.startsWith(prefix)) continue;
    const n = Number(id.slice(prefix.length));
    if (Number.isInteger(n) && n > highest) highest = n;
  }
  return `${prefix}${highest + 1}`;
}

/** Replaces the items that `change` answers differently for; the very same list when none does. */
export function mapChanged<T>(list: readonly T[], change: (item: T) => T): readonly T[] {
  let changed = false;
  const result = list.map((item) => {
    const next = change(item);
    if (next !== item) changed = true;
    return next;
  });
  return changed ? result : list;
}

/** `item` with `patch` on it; the very same item where the patch says nothing new. */
export function patched<T extends object>(item: T, patch: Partial<T>): T {
  const keys = Object.keys(patch) as (keyof T)[];
  return keys.every((key) => Object.is(item[key], patch[key])) ? item : { ...item, ...patch };
}
