import 'fake-indexeddb/auto';
import { createEffect, on } from 'solid-js';
import { describe, expect, it } from 'vitest';
import { addBeat } from '../../src/store/beat-commands.ts';
import { renameProject } from '../../src/store/project-commands.ts';
import type { TakeSound } from '../../src/work/desk.ts';
import { beatsAfter, recording, until, withDesk } from './desk-in-hand.ts';

/** What is asked of the workers while something else changes beneath it. */
const take = recording('Ebb mix.wav');
const stem = recording('Ebb - Harp.wav', 0.2);

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

describe('stems that come', () => {
  it('while beats are to be inferred leave no fix out', () =>
    withDesk(async ({ desk, hold }) => {
      await desk.openFiles([take]);
      const keeping = hold('keepFile');
      const adding = desk.addStems([stem]);
      await keeping.asked;
      desk.store.edit(addBeat(1));
      keeping.answer();
      await adding;
      await until(() => !desk.inferring());
      expect(desk.store.heard()?.beats).toEqual(beatsAfter(1));
    }));

  it('while a loop is rendered do not leave it unrendered', () =>
    withDesk(async ({ desk, hold }) => {
      await desk.openFiles([take]);
      const rendering = hold('render');
      const lane = desk.makeStraight(0.2, 3.9);
      await rendering.asked;
      await desk.addStems([stem]);
      await until(() => !desk.rendering());
      expect(desk.loop()?.lane.id).toBe(lane);
    }));

  it('are in a loop that is heard in its parts', () =>
    withDesk(async ({ desk }) => {
      await desk.openFiles([take, stem]);
      desk.makeStraight(0.2, 3.9);
      const harp = desk.store.project()?.stems[0]?.hash ?? '';
      desk.store.setSession({ solo: [harp] });
      await until(() => desk.loop()?.stems.length === 1);
      await desk.addStems([recording('Ebb - Low.wav', 0.3)]);
      await until(() => !desk.rendering());
      expect(desk.loop()?.stems.map(({ label }) => label)).toEqual(['Harp', 'Low']);
    }));

  it('do not take from a pad the sound that is asked for because of them', () =>
    withDesk(async ({ desk }) => {
      await desk.openFiles([take]);
      const slice = desk.store.project()?.slices[0];
      if (!slice) throw new Error('no slice');
      let asked: Promise<TakeSound | null> | null = null;
      createEffect(
        on(desk.sound, () => {
          asked = desk.pitchSlice(slice, { semitones: 2, cents: 0, formants: 'moved' });
        }),
      );
      await asked;
      await desk.addStems([stem]);
      const moved = (await asked) as TakeSound | null;
      expect(moved?.stems.map(({ label }) => label)).toEqual(['Harp']);
      expect(desk.problem()).toBeNull();
    }));
});
