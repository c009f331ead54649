import { statSync } from 'node:fs';
import type { Given } from './verb.ts';

/**
 * Refuses an output that is one of the files that are read, with `--force` too: what it was made from would be gone.
 * They are compared as what lies on the disk, so links and other spellings of a path count. Throws UsageError.
 */
export function spareInputs(
  given: Given,
  outputs: readonly string[],
  inputs: readonly (string | undefined)[],
): void {
  const read = new Map<string, string>();
  for (const path of inputs) {
    const file = path === undefined ? null : fileAt(path);
    if (path !== undefined && file !== null) read.set(file, path);
  }
  for (const path of outputs) {
    const file = fileAt(path);
    const input = file === null ? undefined : read.get(file);
    if (input === undefined) continue;
    const which = input === path ? 'it is read' : `it is ${input}, which is read`;
    given.fail(`${path} can't be written: ${which}; name another place`);
  }
}

/** Which file of the machine a path leads to; null where there is none. */
function fileAt(path: string): string | null {
  try {
    const { dev, ino } = statSync(path, { bigint: true });
    return `${dev} ${ino}`;
  } catch {
    return null;
  }
}
