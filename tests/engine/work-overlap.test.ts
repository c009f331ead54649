import 'fake-indexeddb/auto';
import { forceCloseDatabase } from 'fake-indexeddb';
import { createEffect, on } from 'solid-js';
import { describe, expect, it, vi } from 'vitest';
import { addBeat } from '../../src/store/beat-commands.ts';
import { removeStem, renameProject, wishPack } from '../../src/store/project-commands.ts';
import { writeProject } from '../../src/store/project-file.ts';
import { renameStem } from '../../src/store/stem-commands.ts';
import type { Desk, TakeSound } from '../../src/work/desk.ts';
import { beatsAfter, recording, until, withDesk } from './desk-in-hand.ts';
import { plainProject } from './store-arbitraries.ts';

/** What is asked of the workers while something else changes beneath it. */
const take = recording('Ebb mix.wav');
const stem = recording('Ebb - Harp.wav', 0.2);

/** From now on the browser has no more room for something. */
function refuse(store: string, error = 'QuotaExceededError'): void {
  const { put } = IDBObjectStore.prototype;
  vi.spyOn(IDBObjectStore.prototype, 'put').mockImplementation(function (
    this: IDBObjectStore,
    ...all
  ) {
    if (this.name === store) throw new DOMException('No.', error);
    return put.apply(this, all);
  });
}

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

describe('stems that go', () => {
  const low = recording('Ebb - Low.wav', 0.3);
  const labels = (desk: Desk) => ({
    kept: desk.store.project()?.stems.map(({ label }) => label),
    heard: desk.sound()?.stems.map(({ label }) => label),
  });
  const removeHarp = (desk: Desk) =>
    desk.store.edit(removeStem(desk.store.project()?.stems[0]?.hash ?? ''));

  it('while others are added stay away, and the others come', () =>
    withDesk(async ({ desk, hold }) => {
      await desk.openFiles([take, stem]);
      const reading = hold('read');
      const adding = desk.addStems([low]);
      await reading.asked;
      removeHarp(desk);
      await adding;
      expect(labels(desk)).toEqual({ kept: ['Low'], heard: ['Low'] });
      expect(desk.problem()).toBeNull();
    }));

  it('while it is packed break that off, and that is said', () =>
    withDesk(async ({ desk, hold }) => {
      await desk.openFiles([take, stem]);
      const packing = hold('pack');
      const pack = desk.savePack();
      await packing.asked;
      removeHarp(desk);
      expect(await pack).toBeNull();
      expect(desk.problem()).toBe('It was broken off (packing); do it again.');
    }));

  it('and come back are in no pack before they are read', () =>
    withDesk(async ({ desk, hold, given }) => {
      await desk.openFiles([take, stem]);
      removeHarp(desk);
      const reading = hold('read');
      desk.store.undo();
      await reading.asked;
      expect(await desk.savePack()).toBeNull();
      expect(desk.problem()).toContain('Not all stems are read');
      reading.answer();
      await until(() => desk.sound()?.stems.length === 1);
      expect((await desk.savePack())?.name).toBe('Ebb mix pack.zip');
      expect(given.filter(({ job }) => job === 'pack')).toHaveLength(1);
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
      refuse('projects');
      await desk.openFiles([take]);
      expect(desk.store.project()?.name).toBe('Ebb mix');
      expect(desk.store.heard()).not.toBeNull();
      expect(desk.saving()).toBe('full');
    }));
});

describe('what is opened', () => {
  const flood = recording('Flood mix.wav', 0.4);

  it('while the browser still looks for the last project is not given up for that', () =>
    withDesk(async ({ desk, again }) => {
      await desk.openFiles([take]);
      const late = again();
      await Promise.all([late.openLast(), late.openFiles([flood])]);
      expect(late.store.project()?.name).toBe('Flood mix');
      expect(late.store.heard()).not.toBeNull();
    }));

  it('is as it was kept last, and not there where it was deleted meanwhile', () =>
    withDesk(async ({ desk, shelf, hold }) => {
      await desk.openFiles([take]);
      const ebb = desk.store.project();
      await desk.openFiles([flood]);
      if (!ebb) throw new Error('no project');
      const read = async (meanwhile: () => Promise<unknown>) => {
        const reading = hold('read');
        const opening = desk.openProject(ebb.id);
        await reading.asked;
        await meanwhile();
        reading.answer();
        await opening;
      };
      await read(() => desk.removeProject(ebb.id));
      expect(desk.store.project()?.name).toBe('Flood mix');
      expect(desk.problem()).toContain('no longer kept here');
      await desk.restoreProject(ebb.id);
      await read(() => shelf.save({ ...ebb, name: 'named elsewhere' }));
      expect(desk.store.project()?.name).toBe('named elsewhere');
    }));

  it('waits for what was done while it was read, and leaves that where it cannot be saved', () =>
    withDesk(async ({ desk, hold }) => {
      await desk.openFiles([take]);
      const reading = hold('read');
      const opening = desk.openFiles([flood]);
      await reading.asked;
      refuse('projects');
      desk.store.edit(renameProject('mine'));
      reading.answer();
      await opening;
      expect(desk.store.project()?.name).toBe('mine');
      expect(desk.problem()).toContain('mine could not be saved, so it stays open');
    }));

  it('from a file is another project than the deleted one of that name', () =>
    withDesk(async ({ desk, shelf }) => {
      await desk.openFiles([take]);
      const ebb = desk.store.project();
      if (!ebb) throw new Error('no project');
      const file = new File([writeProject({ ...ebb, name: 'an older state' })], 'Ebb.json');
      await desk.removeProject(ebb.id);
      await desk.openFiles([file]);
      expect(desk.store.project()?.name).toBe('an older state');
      expect((await shelf.removed()).map(({ name }) => name)).toEqual(['Ebb mix']);
    }));
});

describe('a browser that breaks off', () => {
  it('what the list of projects asks of it is no change of mind', () =>
    withDesk(async ({ desk }) => {
      await desk.openFiles([take]);
      refuse('projects', 'AbortError');
      expect(await desk.removeProject(desk.store.project()?.id ?? '')).toBe(false);
      expect(desk.problem()).toBe('The browser has broken it off; try it again.');
      expect(desk.store.project()).not.toBeNull();
    }));

  it('the first wish to keep something is asked again', () =>
    withDesk(async ({ shelf }) => {
      vi.resetModules();
      const { jobs } = await import('../../src/work/jobs.ts');
      const blob = new Blob(['what was played']);
      const open = vi.spyOn(indexedDB, 'open').mockImplementation(() => {
        throw new DOMException('Being cleared.', 'InvalidStateError');
      });
      await jobs.keepFile({ blob, hash: 'a'.repeat(64) }, () => {});
      open.mockRestore();
      await jobs.keepFile({ blob, hash: 'b'.repeat(64) }, () => {});
      expect(await shelf.getAudio('b'.repeat(64))).not.toBeNull();
    }));
});

describe('two windows', () => {
  /** The same project open in both; the first has it. */
  const two = async (desk: Desk, again: () => Desk) => {
    await desk.openFiles([take]);
    const second = again();
    await second.openLast();
    await until(() => second.elsewhere());
    return second;
  };

  it('of which one takes over: nothing is done there before the work of the other is seen', () =>
    withDesk(async ({ desk, again }) => {
      const second = await two(desk, again);
      const { get } = IDBObjectStore.prototype;
      let tried = false;
      vi.spyOn(IDBObjectStore.prototype, 'get').mockImplementation(function (
        this: IDBObjectStore,
        key,
      ) {
        // What is kept is looked for: the lock is the second window's by now.
        if (this.name === 'projects') {
          tried = true;
          second.store.edit(wishPack({ artist: 'too early' }));
        }
        return get.call(this, key);
      });
      desk.store.edit(renameProject('of the first'));
      second.takeOver();
      await until(() => desk.elsewhere() && !second.elsewhere());
      expect(tried).toBe(true);
      expect(second.store.project()?.name).toBe('of the first');
      expect(second.store.project()?.pack).toBeUndefined();
      second.store.edit(wishPack({ artist: 'in time' }));
      expect(second.store.project()?.pack).toEqual({ artist: 'in time' });
    }));

  it('of which the one that wished for it has gone: the other goes on from what is kept', () =>
    withDesk(async ({ desk, shelf }) => {
      await desk.openFiles([take]);
      await desk.saveNow();
      const project = desk.store.project();
      if (!project) throw new Error('no project');
      const wisher = new BroadcastChannel('unclicked hold');
      wisher.postMessage({ say: 'wish', project: project.id });
      await until(() => desk.elsewhere());
      wisher.close();
      await shelf.save({ ...project, name: 'done there', changed: '2026-03-03T00:00:00.000Z' });
      await until(() => !desk.elsewhere());
      expect(desk.store.project()?.name).toBe('done there');
    }));

  it('of which one loses its store: it keeps nothing over what the other has done', () =>
    withDesk(async ({ desk, shelf, connections, again }) => {
      const second = await two(desk, again);
      desk.store.edit(renameProject('of the first'));
      await desk.saveNow();
      forceCloseDatabase(connections.at(-1) as never);
      await until(() => second.problem() !== null);
      expect(second.problem()).toContain('The browser has cleared what it kept');
      const id = desk.store.project()?.id ?? '';
      expect((await shelf.load(id))?.project.name).toBe('of the first');
    }));

  it('of which one deletes it: nothing is open there, so nothing is said of another window', () =>
    withDesk(async ({ desk, again }) => {
      const second = await two(desk, again);
      await second.removeProject(desk.store.project()?.id ?? '');
      expect(second.store.project()).toBeNull();
      expect(second.elsewhere()).toBe(false);
    }));
});

describe('a project that is deleted', () => {
  it('stays deleted, though something done to it meanwhile is being saved', () =>
    withDesk(async ({ desk, shelf }) => {
      await desk.openFiles([take]);
      await desk.saveNow();
      const id = desk.store.project()?.id ?? '';
      const { put } = IDBObjectStore.prototype;
      vi.spyOn(IDBObjectStore.prototype, 'put').mockImplementation(function (
        this: IDBObjectStore,
        ...all
      ) {
        const asked = put.apply(this, all);
        if (typeof all[0]?.removed === 'number' && desk.store.project()) {
          desk.store.edit(renameProject('in between'));
          dispatchEvent(new Event('beforeunload'));
        }
        return asked;
      });
      expect(await desk.removeProject(id)).toBe(true);
      expect(await shelf.load(id)).toBeNull();
      expect(desk.projects()).toEqual([]);
    }));
});

it('how many cuts there are can be changed, though another project ended a change before', () =>
  withDesk(async ({ desk }) => {
    await desk.openFiles([take]);
    desk.sweepCuts(30);
    await desk.openFiles([recording('Flood mix.wav', 0.4)]);
    desk.sweepCuts(70, true);
    await until(() => desk.store.undoLabel() !== null);
    expect(desk.store.project()?.cuts).toBe(70);
  }));
