import 'fake-indexeddb/auto';
import { createEffect, on } from 'solid-js';
import { describe, expect, it, vi } from 'vitest';
import { addBeat } from '../../src/store/beat-commands.ts';
import { removeStem, renameProject, wishPack } from '../../src/store/project-commands.ts';
import { writeProject } from '../../src/store/project-file.ts';
import { renameStem } from '../../src/store/stem-commands.ts';
import type { TakeSound } from '../../src/work/desk.ts';
import { beatsAfter, recording, until, withDesk } from './desk-in-hand.ts';
import { plainProject } from './store-arbitraries.ts';

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
    withDesk(async ({ desk, owned }) => {
      await desk.openFiles([take]);
      const slice = desk.store.project()?.slices[0];
      if (!slice) throw new Error('no slice');
      let asked: Promise<TakeSound | null> | null = null;
      owned(() =>
        createEffect(
          on(desk.sound, () => {
            asked = desk.pitchSlice(slice, { semitones: 2, cents: 0, formants: 'moved' });
          }),
        ),
      );
      await asked;
      await desk.addStems([stem]);
      const moved = (await asked) as TakeSound | null;
      expect(moved?.stems.map(({ label }) => label)).toEqual(['Harp']);
      expect(desk.problem()).toBeNull();
    }));
});

describe('while a take is heard', () => {
  it('what is done to it is kept', () =>
    withDesk(async ({ desk, shelf, hold }) => {
      const hearing = hold('hear');
      const opening = desk.openFiles([take, stem]);
      await hearing.asked;
      const harp = desk.store.project()?.stems[0]?.hash ?? '';
      desk.store.edit(wishPack({ artist: 'Somebody' }));
      desk.store.edit(renameStem(harp, 'Lyre'));
      hearing.answer();
      await opening;
      await desk.saveNow();
      const id = desk.store.project()?.id ?? '';
      const kept = (await shelf.load(id))?.project;
      for (const project of [desk.store.project(), kept])
        expect(project).toMatchObject({ pack: { artist: 'Somebody' }, stems: [{ label: 'Lyre' }] });
      expect(kept?.slices).toHaveLength(3);
    }));

  it('a stem can be taken away', () =>
    withDesk(async ({ desk, hold }) => {
      const hearing = hold('hear');
      const opening = desk.openFiles([take, stem]);
      await hearing.asked;
      desk.store.edit(removeStem(desk.store.project()?.stems[0]?.hash ?? ''));
      await opening;
      expect(desk.store.heard()).not.toBeNull();
      expect(desk.store.project()?.stems).toEqual([]);
    }));

  it('a name that is given to a project from a file is kept', () =>
    withDesk(async ({ desk, shelf, hold }) => {
      await desk.openFiles([take]);
      const { hash, ...file } = desk.store.project()?.take ?? plainProject().take;
      const saved = { ...plainProject(), take: { hash, ...file } };
      const hearing = hold('hear');
      const opening = desk.openFiles([new File([writeProject(saved)], 'Harbour.json')]);
      await until(() => desk.store.project()?.id === saved.id);
      desk.store.edit(renameProject('Pier'));
      await desk.saveNow();
      hearing.answer();
      await opening;
      expect((await shelf.load(saved.id))?.project.name).toBe('Pier');
    }));

  it('what another window has done to its beats is in them', () =>
    withDesk(async ({ desk, hold }) => {
      const hearing = hold('hear');
      const opening = desk.openFiles([take]);
      await hearing.asked;
      desk.store.edit(addBeat(1));
      hearing.answer();
      await opening;
      expect(desk.store.heard()?.beats).toEqual(beatsAfter(1));
    }));

  it('and given up, what its sound has ended in the project before is not lost', () =>
    withDesk(async ({ desk, owned, hold }) => {
      await desk.openFiles([take]);
      // As a pass that was being played in.
      const pass = () => desk.store.edit(renameProject('with the last pass'));
      owned(() => createEffect(on(desk.sound, pass, { defer: true })));
      const hearing = hold('hear');
      const opening = desk.openFiles([recording('Flood mix.wav', 0.4)]);
      await hearing.asked;
      expect(desk.store.project()?.name).not.toBe('Ebb mix');
      desk.cancel();
      await opening;
      expect(desk.store.project()?.take.name).toBe('Ebb mix.wav');
      expect(desk.store.project()?.name).toBe('with the last pass');
    }));

  it('and cannot be kept, it can be worked on all the same', () =>
    withDesk(async ({ desk }) => {
      const { put } = IDBObjectStore.prototype;
      vi.spyOn(IDBObjectStore.prototype, 'put').mockImplementation(function (
        this: IDBObjectStore,
        ...all
      ) {
        if (this.name === 'projects') throw new DOMException('No room.', 'QuotaExceededError');
        return put.apply(this, all);
      });
      await desk.openFiles([take]);
      expect(desk.store.project()?.name).toBe('Ebb mix');
      expect(desk.store.heard()).not.toBeNull();
      expect(desk.saving()).toBe('full');
    }));
});
