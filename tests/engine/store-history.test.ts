import fc from 'fast-check';
import { createRoot } from 'solid-js';
import { describe, expect, it } from 'vitest';
import * as log from '../../src/store/history.ts';
import { renameProject } from '../../src/store/project-commands.ts';
import { createProjectStore } from '../../src/store/project-store.ts';
import { moveEdge } from '../../src/store/slice-commands.ts';
import { anyCommand, plainProject } from './store-arbitraries.ts';

const seed = 20260103;
const how = fc.constantFrom<log.How>('step', 'step', 'gather');

describe('history', () => {
  it(`undone wholly is the first document, redone wholly the last (seed ${seed})`, () => {
    fc.assert(
      fc.property(fc.array(fc.tuple(anyCommand, how), { maxLength: 40 }), (edits) => {
        const first = plainProject();
        let history = log.startHistory(first);
        for (const [command, way] of edits) history = log.perform(history, command, way);
        history = log.release(history, 'gathered');
        const last = history.present;
        const steps = history.past.length;
        for (let i = 0; i < steps; i++) history = log.undo(history);
        expect(history.present).toEqual(plainProject());
        expect(log.undoLabel(history)).toBeNull();
        for (let i = 0; i < steps; i++) history = log.redo(history);
        expect(history.present).toBe(last);
        expect(log.redoLabel(history)).toBeNull();
      }),
      { seed, numRuns: 150 },
    );
  });

  it('walked back and forth at random equals the plain list of documents (model)', () => {
    const move = fc.oneof(
      anyCommand.map((command) => ({ kind: 'edit' as const, command })),
      fc.constant({ kind: 'undo' as const }),
      fc.constant({ kind: 'redo' as const }),
    );
    fc.assert(
      fc.property(fc.array(move, { maxLength: 60 }), (moves) => {
        let history = log.startHistory(plainProject());
        let documents = [history.present];
        let at = 0;
        for (const one of moves) {
          if (one.kind === 'undo') {
            history = log.undo(history);
            at = Math.max(0, at - 1);
          } else if (one.kind === 'redo') {
            history = log.redo(history);
            at = Math.min(documents.length - 1, at + 1);
          } else {
            history = log.perform(history, one.command);
            const now = documents[at];
            const next = now && one.command.apply(now);
            if (next && next !== now) {
              documents = [...documents.slice(0, at + 1), next];
              at += 1;
            }
          }
          expect(history.present).toEqual(documents[at]);
        }
      }),
      { seed, numRuns: 100 },
    );
  });

  it('keeps redo over an edit that changes nothing, and drops it at one that does', () => {
    let history = log.perform(log.startHistory(plainProject()), renameProject('Quay'));
    history = log.undo(history);
    history = log.perform(history, renameProject('Harbour'));
    expect(log.redoLabel(history)).toBe('rename');
    history = log.perform(history, renameProject('Mole'));
    expect(log.redoLabel(history)).toBeNull();
  });

  it('takes a pass neither as a step nor out of one', () => {
    let history = log.perform(log.startHistory(plainProject()), renameProject('Quay'), 'pass');
    expect(log.undoLabel(history)).toBeNull();
    history = log.perform(history, renameProject('Mole'));
    expect(log.undo(history).present.name).toBe('Quay');
  });
});

describe('the project store', () => {
  const withStore = (run: (store: ReturnType<typeof createProjectStore>) => void) =>
    createRoot((dispose) => {
      const store = createProjectStore(() => new Date('2026-03-04T05:06:07Z'));
      store.open(plainProject());
      run(store);
      dispose();
    });

  it('makes one step of a drag, however many movements it has', () => {
    withStore((store) => {
      const drag = store.gesture('move a cut');
      for (const to of [1.6, 1.7, 1.9, 1.8]) drag.show(moveEdge('s3', 'start', to));
      expect(store.project()?.slices[2]?.start).toBe(1.8);
      drag.done();
      expect(store.undoLabel()).toBe('move a cut');
      store.undo();
      expect(store.project()?.slices).toEqual(plainProject().slices);
      expect(store.undoLabel()).toBeNull();
      store.redo();
      expect(store.project()?.slices[2]?.start).toBe(1.8);
    });
  });

  it('goes on with a drag while a pass is taken down beside it, and undoes each by itself', () => {
    withStore((store) => {
      const drag = store.gesture('move a cut');
      drag.show(moveEdge('s3', 'start', 1.7));
      store.edit(renameProject('Beside'), 'beside');
      expect(drag.open()).toBe(true);
      expect(store.project()?.slices[2]?.start).toBe(1.7);
      drag.show(moveEdge('s3', 'start', 1.8));
      drag.done();
      expect(store.project()).toMatchObject({ name: 'Beside' });
      expect(store.project()?.slices[2]?.start).toBe(1.8);
      expect(store.undo()).toBe('move a cut');
      expect(store.project()?.slices).toEqual(plainProject().slices);
      expect(store.project()?.name).toBe('Beside');
      expect(store.undo()).toBe('rename');
      expect(store.project()?.name).toBe(plainProject().name);
      expect(store.undoLabel()).toBeNull();
    });
  });

  it('keeps what was done beside a drag that is cancelled, or has not moved yet', () => {
    withStore((store) => {
      const drag = store.gesture('move a cut');
      store.edit(renameProject('Early'), 'beside');
      drag.show(moveEdge('s3', 'start', 1.7));
      store.edit(renameProject('Late'), 'beside');
      drag.cancel();
      expect(store.project()?.slices).toEqual(plainProject().slices);
      expect(store.project()?.name).toBe('Late');
      store.undo();
      expect(store.project()?.name).toBe('Early');
    });
  });

  it('forgets a drag that was cancelled, and one that came back to where it began', () => {
    withStore((store) => {
      const cancelled = store.gesture('move a cut');
      cancelled.show(moveEdge('s3', 'start', 1.7));
      cancelled.cancel();
      const returned = store.gesture('move a cut');
      returned.show(moveEdge('s3', 'start', 1.7));
      returned.show(moveEdge('s3', 'start', 2));
      returned.done();
      expect(store.undoLabel()).toBeNull();
      expect(store.project()?.slices).toEqual(plainProject().slices);
    });
  });

  it('closes a gesture that another edit interrupts', () => {
    withStore((store) => {
      const drag = store.gesture('move a cut');
      drag.show(moveEdge('s3', 'start', 1.7));
      store.edit(renameProject('Quay'));
      drag.show(moveEdge('s3', 'start', 1.9));
      expect(store.project()?.slices[2]?.start).toBe(1.7);
      expect([store.undo(), store.undo(), store.undo()]).toEqual(['rename', 'move a cut', null]);
    });
  });

  it('keeps redo when only the session changes', () => {
    withStore((store) => {
      store.edit(renameProject('Quay'));
      store.undo();
      store.setSession({ selection: { kind: 'slices', ids: ['s1'] }, scroll: 3 });
      expect(store.redoLabel()).toBe('rename');
    });
  });

  it('writes down when the document was changed', () => {
    withStore((store) => {
      expect(store.project()?.changed).toBe('2026-01-02T03:04:05.000Z');
      store.edit(renameProject('Quay'));
      expect(store.project()?.changed).toBe('2026-03-04T05:06:07.000Z');
    });
  });
});
