import type { Command } from '../../store/command.ts';
import type { Gesture, ProjectStore } from '../../store/project-store.ts';
import type { ChangeKind } from './number-value.tsx';

/** Turns the changes of one value into edits: a whole drag is one undo step, Escape leaves none. */
export function createSweep(store: ProjectStore): (command: Command, kind: ChangeKind) => void {
  let gesture: Gesture | null = null;
  return (command, kind) => {
    if (kind === 'gather') {
      gesture ??= store.gesture(command.label);
      gesture.show(command);
    } else if (kind === 'back') {
      gesture?.cancel();
      gesture = null;
    } else if (gesture) {
      gesture.show(command);
      gesture.done();
      gesture = null;
    } else store.edit(command);
  };
}
