import 'fake-indexeddb/auto';
import { describe, expect, it } from 'vitest';
import { addBeat } from '../../src/store/beat-commands.ts';
import { renameProject } from '../../src/store/project-commands.ts';
import { beatsAfter, recording, until, withDesk } from './desk-in-hand.ts';

/** What is asked of the workers while something else changes beneath it. */
const take = recording('Ebb mix.wav');

describe('an edit of something else', () => {
  it('while beats are inferred leaves no fix out', () =>
    withDesk(async ({ desk, hold }) => {
      await desk.openFiles([take]);
      const inferring = hold('infer');
      desk.store.edit(addBeat(1));
      await inferring.asked;
      desk.store.edit(renameProject('Ebb'));
      inferring.answer();
      await until(() => !desk.inferring());
      expect(desk.store.heard()?.beats).toEqual(beatsAfter(1));
    }));
});
