import 'fake-indexeddb/auto';
import { createHash } from 'node:crypto';
import { createRoot, createSignal } from 'solid-js';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { createAutosave } from '../../src/store/autosave.ts';
import { hashOf } from '../../src/store/hash.ts';
import type { Hold } from '../../src/store/hold.ts';
import { type Library, openLibrary } from '../../src/store/library.ts';
import type { Project } from '../../src/store/project.ts';
import { createSettings } from '../../src/store/settings.ts';
import { fakeLocks } from './fake-locks.ts';
import { plainProject } from './store-arbitraries.ts';

const day = 24 * 3600 * 1000;
let count = 0;
let clock = 0;
let library: Library;

beforeEach(async () => {
  clock = Date.UTC(2026, 0, 5);
  count += 1;
  library = await openLibrary(`library ${count}`, () => clock);
});
afterEach(() => {
  library.close();
  vi.restoreAllMocks();
  vi.unstubAllGlobals();
});

const bytes = (length: number, seed = 1) =>
  Uint8Array.from({ length }, (_, i) => (i * 31 + seed * 7) & 0xff);
/** What another connection does to the chunks that are kept. */
const editChunks = <T>(mode: IDBTransactionMode, run: (chunks: IDBObjectStore) => IDBRequest<T>) =>
  new Promise<T>((resolve, reject) => {
    const opening = indexedDB.open(`library ${count}`);
    opening.onerror = reject;
    opening.onsuccess = () => {
      const tx = opening.result.transaction('chunks', mode);
      const asked = run(tx.objectStore('chunks'));
      tx.oncomplete = () => {
        opening.result.close();
        resolve(asked.result);
      };
    };
  });
const withTake = async (seed: number): Promise<Project> => {
  const hash = await library.putAudio(bytes(1000, seed));
  const project = plainProject();
  return { ...project, id: `project ${seed}`, take: { ...project.take, hash } };
};

describe('the library', () => {
  it('finds recordings by SHA-256 (FIPS 180-4, Node as reference)', async () => {
    expect(await hashOf(new TextEncoder().encode('abc'))).toBe(
      'ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad',
    );
    const file = bytes(5000);
    expect(await library.putAudio(file)).toBe(createHash('sha256').update(file).digest('hex'));
  });

  it('gives recordings of any size back byte for byte', async () => {
    for (const length of [0, 1, 4 * 1024 * 1024 + 3]) {
      const file = bytes(length, length);
      const hash = await library.putAudio(file);
      expect(Buffer.compare((await library.getAudio(hash)) ?? bytes(1), file)).toBe(0);
    }
    expect(await library.getAudio('f'.repeat(64))).toBeNull();
  });

  it('leaves nothing behind of a file that it was told to stop keeping', async () => {
    const file = bytes(9 * 1024 * 1024);
    const stop = (share: number) => {
      if (share > 0.5) throw new Error('enough');
    };
    await expect(library.putAudio(file, 'a'.repeat(64), stop)).rejects.toThrow('enough');
    const chunks = await editChunks('readonly', (chunks) => chunks.count());
    expect(chunks).toBe(0);
    expect(await library.getAudio('a'.repeat(64))).toBeNull();
  });

  it('lists projects with the one changed last first, and their sizes', async () => {
    const first = await withTake(1);
    const second = { ...(await withTake(2)), name: 'Mole', changed: '2026-02-01T00:00:00.000Z' };
    await library.save(first);
    await library.save(second);
    const list = await library.list();
    expect(list.map((card) => card.name)).toEqual(['Mole', 'Harbour']);
    expect(list[0]?.bytes).toBe(1000 + JSON.stringify(second).length);
    expect((await library.load(first.id))?.project).toEqual(first);
  });

  it('duplicates under a new identity and shares the recording', async () => {
    const first = await withTake(1);
    await library.save(first);
    const copy = await library.duplicate(first.id);
    expect(copy).toMatchObject({ name: 'Harbour, copy', take: first.take });
    expect(copy?.id).not.toBe(first.id);
    expect(await library.list()).toHaveLength(2);
  });

  it('brings a deleted project back, until a day has passed', async () => {
    const project = await withTake(1);
    await library.save(project);
    await library.remove(project.id);
    expect(await library.list()).toEqual([]);
    expect(await library.load(project.id)).toBeNull();
    expect((await library.removed()).map((card) => card.id)).toEqual([project.id]);
    await library.collect();
    await library.restore(project.id);
    expect(await library.list()).toHaveLength(1);
    await library.remove(project.id);
    clock += day + 1;
    await library.collect();
    await library.restore(project.id);
    expect(await library.list()).toEqual([]);
    expect(await library.getAudio(project.take.hash)).toBeNull();
  });

  it('what is on its way to be saved does not bring a deleted project back, nor change it', async () => {
    const project = await withTake(1);
    await library.save(project);
    const later = { ...project, name: 'later' };
    const removing = library.remove(project.id);
    await Promise.all([removing, library.save(later)]);
    expect(await library.list()).toEqual([]);
    expect((await library.removed()).map((card) => card.name)).toEqual([project.name]);
    await library.restore(project.id);
    await library.save(later);
    expect((await library.list()).map((card) => card.name)).toEqual(['later']);
  });

  it('saves on where a project could not be deleted', async () => {
    const project = await withTake(1);
    await library.save(project);
    vi.spyOn(IDBObjectStore.prototype, 'get').mockImplementationOnce(() => {
      throw new DOMException('Later.', 'UnknownError');
    });
    await expect(library.remove(project.id)).rejects.toThrow('Later.');
    await library.save({ ...project, name: 'later' });
    expect((await library.list()).map((card) => card.name)).toEqual(['later']);
  });

  it('sweeps what a worker that was ended has left of a file, but nothing that is being kept', async () => {
    vi.stubGlobal('navigator', { locks: fakeLocks() });
    const [left, kept] = ['b'.repeat(64), 'c'.repeat(64)];
    const whole = await library.putAudio(bytes(10));
    await editChunks('readwrite', (chunks) => chunks.put(new ArrayBuffer(8), [left, 1]));
    // Another window keeps a file meanwhile, of so many chunks that the sweep is over first.
    const window2 = await openLibrary(`library ${count}`, () => clock);
    const drop = vi.spyOn(IDBObjectStore.prototype, 'delete');
    let dropped: unknown[] = [];
    let sweeping = Promise.resolve();
    await window2.putAudio(new Uint8Array(8 * 4 * 1024 * 1024), kept, (share) => {
      if (share !== 0.125) return;
      sweeping = library.collect().then(() => {
        dropped = drop.mock.calls.map(([range]) => (range as IDBKeyRange).lower[0]);
      });
    });
    expect(dropped).toEqual([left]);
    await sweeping;
    const keys = await editChunks('readonly', (chunks) => chunks.getAllKeys());
    expect(keys.filter((key) => Array.isArray(key) && key[0] === kept)).toHaveLength(8);
    expect(keys).toContainEqual([whole, 0]);
    expect(keys).toHaveLength(9);
    window2.close();
  });

  it('sweeps nothing where it cannot be told whether it is being kept', async () => {
    vi.stubGlobal('navigator', {});
    await editChunks('readwrite', (chunks) => chunks.put(new ArrayBuffer(8), ['b'.repeat(64), 0]));
    await library.collect();
    expect(await editChunks('readonly', (chunks) => chunks.getAllKeys())).toHaveLength(1);
  });

  it('keeps recordings that a project uses, and fresh ones that none uses yet', async () => {
    const project = await withTake(1);
    await library.save(project);
    const loose = await library.putAudio(bytes(10, 9));
    await library.collect();
    expect(await library.getAudio(loose)).not.toBeNull();
    clock += day + 1;
    await library.collect();
    expect(await library.getAudio(loose)).toBeNull();
    expect(await library.getAudio(project.take.hash)).not.toBeNull();
  });

  it('keeps a recording that is opened again while what nobody used for a day is dropped', async () => {
    const file = bytes(1000, 2);
    const hashes = [await library.putAudio(bytes(1000)), await library.putAudio(file)];
    hashes.sort();
    const [, last = ''] = hashes;
    const again = last === (await hashOf(file)) ? file : bytes(1000);
    clock += day + 1;
    const { delete: drop } = IDBObjectStore.prototype;
    let opened: Promise<string> | null = null;
    vi.spyOn(IDBObjectStore.prototype, 'delete').mockImplementation(function (
      this: IDBObjectStore,
      ...all
    ) {
      opened ??= library.putAudio(again);
      return drop.apply(this, all);
    });
    await library.collect();
    expect(await opened).toBe(last);
    expect(await library.getAudio(last)).toEqual(again);
  });

  it('keeps a recording whole that another window gives up keeping meanwhile', async () => {
    const file = bytes(13 * 1024 * 1024);
    const other = await openLibrary(`library ${count}`, () => clock);
    let kept: Promise<string> | null = null;
    const given = library.putAudio(file, 'a'.repeat(64), (share) => {
      if (share > 0) kept ??= other.putAudio(file, 'a'.repeat(64));
      if (share > 0.7) throw new Error('enough');
    });
    await expect(given).rejects.toThrow('enough');
    await kept;
    const there = await library.getAudio('a'.repeat(64));
    expect(there && Buffer.compare(there, file)).toBe(0);
    other.close();
  });

  it('fails once where the browser breaks off a transaction', async () => {
    const project = await withTake(1);
    await library.save(project);
    const unheard: unknown[] = [];
    const hear = (reason: unknown) => unheard.push(reason);
    process.on('unhandledRejection', hear);
    const { get } = IDBObjectStore.prototype;
    vi.spyOn(IDBObjectStore.prototype, 'get').mockImplementation(function (
      this: IDBObjectStore,
      ...all
    ) {
      const asked = get.apply(this, all);
      this.transaction.abort();
      return asked;
    });
    await expect(library.save(project)).rejects.toThrow();
    await expect(library.remove(project.id)).rejects.toThrow();
    await expect(library.putAudio(bytes(10, 9))).rejects.toThrow();
    await new Promise((turn) => setImmediate(turn));
    process.off('unhandledRejection', hear);
    expect(unheard).toEqual([]);
  });

  it('does not lose the recording of a document that it cannot read', async () => {
    const project = await withTake(1);
    await library.save({ ...project, version: 9 } as unknown as Project);
    clock += day + 1;
    await library.collect();
    expect(await library.list()).toEqual([]);
    expect(await library.getAudio(project.take.hash)).not.toBeNull();
    await expect(library.load(project.id)).rejects.toThrow(/newer version/);
  });
});

describe('settings', () => {
  it('of one window leave alone what another has changed', () => {
    const stored = new Map<string, string>();
    vi.stubGlobal('localStorage', {
      getItem: (key: string) => stored.get(key) ?? null,
      setItem: (key: string, value: string) => stored.set(key, value),
    });
    const [one, other] = [createSettings(), createSettings()];
    one.change({ latency: 0.12 });
    other.change({ project: 'p' });
    expect(createSettings().settings).toMatchObject({ latency: 0.12, project: 'p' });
    vi.unstubAllGlobals();
  });
});

describe('autosave', () => {
  const page = new EventTarget();
  beforeEach(() => {
    vi.useFakeTimers();
    vi.stubGlobal('document', Object.assign(new EventTarget(), { visibilityState: 'visible' }));
    vi.stubGlobal('addEventListener', page.addEventListener.bind(page));
    vi.stubGlobal('removeEventListener', page.removeEventListener.bind(page));
  });
  afterEach(() => {
    vi.useRealTimers();
    vi.unstubAllGlobals();
  });

  /** What is kept of the open project when another window lets go of it. */
  let kept = plainProject();
  const watched = async (
    save: (project: Project) => Promise<void>,
    run: (
      set: (project: Project | null) => void,
      saving: ReturnType<typeof createAutosave>,
      setHold: (hold: Hold) => void,
    ) => Promise<void>,
  ) => {
    const shelf = {
      save,
      load: async () => ({ project: kept, repairs: [] }),
    } as unknown as Library;
    await createRoot(async (dispose) => {
      const [project, setProject] = createSignal<Project | null>(null);
      const [hold, setHold] = createSignal<Hold>('mine');
      const saving = createAutosave(project, () => shelf, hold);
      await Promise.resolve();
      await run((next) => void setProject(() => next), saving, setHold);
      dispose();
    });
  };

  it('does not save what was only opened', async () => {
    const saved: string[] = [];
    await watched(
      async (project) => void saved.push(project.name),
      async (set) => {
        set(plainProject());
        await vi.advanceTimersByTimeAsync(5000);
        expect(saved).toEqual([]);
      },
    );
  });

  it('saves quick edits together, the last state of them', async () => {
    const saved: string[] = [];
    await watched(
      async (project) => void saved.push(project.name),
      async (set, { state }) => {
        set(plainProject());
        for (const name of ['a', 'b', 'c']) {
          set({ ...plainProject(), name });
          await vi.advanceTimersByTimeAsync(100);
        }
        expect(state()).toBe('waiting');
        expect(saved).toEqual([]);
        await vi.advanceTimersByTimeAsync(1000);
        expect(saved).toEqual(['c']);
        expect(state()).toBe('saved');
      },
    );
  });

  it('saves at once when the page is hidden, and before another project opens', async () => {
    const saved: string[] = [];
    await watched(
      async (project) => void saved.push(project.name),
      async (set) => {
        set(plainProject());
        set({ ...plainProject(), name: 'hidden' });
        Object.assign(document, { visibilityState: 'hidden' });
        document.dispatchEvent(new Event('visibilitychange'));
        await vi.advanceTimersByTimeAsync(0);
        expect(saved).toEqual(['hidden']);
        set({ ...plainProject(), name: 'left' });
        set({ ...plainProject(), id: 'other', name: 'other' });
        await vi.advanceTimersByTimeAsync(0);
        expect(saved).toEqual(['hidden', 'left']);
      },
    );
  });

  it('writes nothing while another window has the project, and what waits once it is its own', async () => {
    const saved: string[] = [];
    await watched(
      async (project) => void saved.push(project.name),
      async (set, { state }, setHold) => {
        setHold('asking');
        set(plainProject());
        set({ ...plainProject(), name: 'a' });
        await vi.advanceTimersByTimeAsync(1000);
        expect(saved).toEqual([]);
        setHold('elsewhere');
        await vi.advanceTimersByTimeAsync(1000);
        expect(state()).toBe('elsewhere');
        expect(saved).toEqual([]);
        setHold('mine');
        await vi.advanceTimersByTimeAsync(0);
        expect(saved).toEqual(['a']);
      },
    );
  });

  it('writes into a copy where another window has worked on the project, by itself or when it is left', async () => {
    const saved: Project[] = [];
    await watched(
      async (project) => void saved.push(project),
      async (set, { leave }, setHold) => {
        const { id } = plainProject();
        kept = { ...plainProject(), changed: '2026-03-03T00:00:00.000Z' };
        set(plainProject());
        setHold('elsewhere');
        set({ ...plainProject(), name: 'a' });
        setHold('mine');
        await vi.advanceTimersByTimeAsync(1000);
        expect(saved.map(({ name }) => name)).toEqual(['a, from another window']);
        setHold('elsewhere');
        set({ ...plainProject(), name: 'b' });
        expect(await leave()).toEqual({ safe: true, copy: 'b, from another window' });
        expect(saved.map(({ name }) => name)[1]).toBe('b, from another window');
        expect(saved.every((one) => one.id !== id)).toBe(true);
        kept = plainProject();
      },
    );
  });

  it('takes its own work that is still being saved for no work of another window', async () => {
    const saved: Project[] = [];
    let open = () => {};
    const opened = new Promise<void>((done) => {
      open = done;
    });
    await watched(
      async (project) => {
        await opened;
        saved.push(project);
        kept = project;
      },
      async (set, { flush }, setHold) => {
        kept = plainProject();
        set(plainProject());
        setHold('elsewhere');
        setHold('mine');
        set({ ...plainProject(), name: 'a', changed: '2026-03-03T00:00:00.000Z' });
        void flush();
        set({ ...plainProject(), name: 'b', changed: '2026-03-04T00:00:00.000Z' });
        const last = flush();
        open();
        await last;
        expect(saved.map(({ name }) => name)).toEqual(['a', 'b']);
        kept = plainProject();
      },
    );
  });

  it('makes no copy of what is left before it is told whether another window has it', async () => {
    const saved: Project[] = [];
    await watched(
      async (project) => void saved.push(project),
      async (set, { leave }, setHold) => {
        setHold('asking');
        set(plainProject());
        set({ ...plainProject(), name: 'a' });
        const left = leave();
        setHold('mine');
        expect(await left).toEqual({ safe: true, copy: null });
        expect(saved.map(({ id, name }) => [id, name])).toEqual([[plainProject().id, 'a']]);
      },
    );
  });

  it('saves what is done while it saves, before something else is opened', async () => {
    const saved: string[] = [];
    let set: (project: Project) => void = () => {};
    await watched(
      async (project) => {
        saved.push(project.name);
        if (project.name === 'a') set({ ...plainProject(), name: 'b' });
      },
      async (next, { leave }) => {
        set = next;
        set(plainProject());
        set({ ...plainProject(), name: 'a' });
        expect((await leave()).safe).toBe(true);
        expect(saved).toEqual(['a', 'b']);
      },
    );
  });

  it('says that leaving is not safe while saving fails', async () => {
    await watched(
      async () => {
        throw new DOMException('', 'QuotaExceededError');
      },
      async (set, { leave }) => {
        set(plainProject());
        expect((await leave()).safe).toBe(true);
        set({ ...plainProject(), name: 'a' });
        expect((await leave()).safe).toBe(false);
      },
    );
  });

  it('tries again by itself after a failure', async () => {
    let broken = true;
    const saved: string[] = [];
    await watched(
      async (project) => {
        if (broken) throw new Error('closed');
        saved.push(project.name);
      },
      async (set, { state }) => {
        set(plainProject());
        set({ ...plainProject(), name: 'a' });
        await vi.advanceTimersByTimeAsync(1000);
        expect(state()).toBe('failed');
        broken = false;
        await vi.advanceTimersByTimeAsync(15_000);
        expect(saved).toEqual(['a']);
        expect(state()).toBe('saved');
      },
    );
  });

  it('says when there is no more room, and tries again at the next edit', async () => {
    let full = true;
    const saved: string[] = [];
    await watched(
      async (project) => {
        if (full) throw new DOMException('', 'QuotaExceededError');
        saved.push(project.name);
      },
      async (set, { state }) => {
        set(plainProject());
        set({ ...plainProject(), name: 'a' });
        await vi.advanceTimersByTimeAsync(1000);
        expect(state()).toBe('full');
        full = false;
        set({ ...plainProject(), name: 'b' });
        await vi.advanceTimersByTimeAsync(1000);
        expect(state()).toBe('saved');
        expect(saved).toEqual(['b']);
      },
    );
  });
});
