import { type DBSchema, type IDBPDatabase, openDB } from 'idb';
import type { Progress } from '../../shared/math/progress.ts';
import { hashOf } from './hash.ts';
import type { Project } from './project.ts';
import { readProject } from './project-file.ts';

/**
 * Everything this browser keeps: documents, and apart from them the recordings by the hash of their
 * bytes, in chunks (one value of hundreds of megabytes is refused by some browsers). Nothing leaves it.
 */
export interface Library {
  /** All projects but the removed ones, the one changed last first. */
  readonly list: () => Promise<ProjectCard[]>;
  /** The removed ones that can still be brought back, likewise. */
  readonly removed: () => Promise<ProjectCard[]>;
  /** A document, repaired where it needed it; null when there is none. Throws InputError for one from a newer version. */
  readonly load: (id: string) => Promise<{ project: Project; repairs: readonly string[] } | null>;
  /** Whether there is a document of that name: a removed one, and one of a newer version, too. */
  readonly has: (id: string) => Promise<boolean>;
  /** Keeps a document; one that was removed stays as it was. */
  readonly save: (project: Project) => Promise<void>;
  /** Copies a project under a new identity and name; the recordings are shared. */
  readonly duplicate: (id: string) => Promise<Project | null>;
  /** Takes a project off the list; `restore` brings it back until `collect` runs a day later. */
  readonly remove: (id: string) => Promise<void>;
  readonly restore: (id: string) => Promise<void>;
  /**
   * Stores a file's bytes and returns their SHA-256 in hex (`known` where it is). Bytes that are there already
   * are not stored twice; where it fails, or progress is told to stop, nothing of them is left behind.
   */
  readonly putAudio: (bytes: Uint8Array, known?: string, progress?: Progress) => Promise<string>;
  readonly getAudio: (hash: string) => Promise<Uint8Array | null>;
  /** What was heard in a recording, so that it need not be heard again; the key begins with its hash. */
  readonly putHeard: (key: string, value: unknown) => Promise<void>;
  readonly getHeard: (key: string) => Promise<unknown>;
  /**
   * Drops for good what was removed, and recordings that no project has used, for a day; and what a window or worker that
   * was ended has left of a file that it was keeping, where locks tell that nobody keeps it just now.
   */
  readonly collect: () => Promise<void>;
  readonly close: () => void;
}

/** A line of the list of projects. */
export interface ProjectCard {
  readonly id: string;
  readonly name: string;
  /** ISO 8601. */
  readonly created: string;
  readonly changed: string;
  readonly seconds: number;
  /** Of the document and the recordings it uses. */
  readonly bytes: number;
}

interface Schema extends DBSchema {
  projects: { key: string; value: { id: string; document: unknown; removed: number | null } };
  audio: { key: string; value: { hash: string; bytes: number; chunks: number; used: number } };
  chunks: { key: [string, number]; value: ArrayBuffer };
  heard: { key: string; value: { key: string; value: unknown } };
}

const chunkBytes = 4 * 1024 * 1024;
const day = 24 * 3600 * 1000;

/**
 * @param clock milliseconds now; a parameter so that tests can hold it
 * @param lost told when the browser has taken away what was kept, once more can be kept again
 */
export async function openLibrary(
  name = 'unclicked',
  clock: () => number = Date.now,
  lost: () => void = () => {},
): Promise<Library> {
  const open = (): Promise<IDBPDatabase<Schema>> =>
    openDB<Schema>(name, 1, {
      upgrade(fresh) {
        fresh.createObjectStore('projects', { keyPath: 'id' });
        fresh.createObjectStore('audio', { keyPath: 'hash' });
        fresh.createObjectStore('chunks');
        fresh.createObjectStore('heard', { keyPath: 'key' });
      },
      // The user, or a browser short of room, has cleared what the page keeps: this connection is of no more use.
      terminated: () => void reopen(),
    });
  // As long as the clearing goes on, nothing can be opened.
  const reopen = (): Promise<void> =>
    open().then(
      (again) => {
        db = again;
        lost();
      },
      () => void setTimeout(reopen, 500),
    );
  let db = await open();

  const load: Library['load'] = async (id) => {
    const row = await db.get('projects', id);
    return row && row.removed === null ? readProject(row.document) : null;
  };

  /** Removed here: what is still on its way to be saved does not bring them back. */
  const removedHere = new Set<string>();

  const save: Library['save'] = async (project) => {
    const tx = db.transaction('projects', 'readwrite');
    const row = { id: project.id, document: project, removed: null };
    if (removedHere.has(project.id))
      await whole(tx, async () => {
        // It may not be removed after all, or be there again.
        const kept = await tx.store.get(project.id);
        if (!kept || kept.removed === null) await tx.store.put(row);
      });
    else {
      const put = tx.store.put(row);
      // Nothing is waited for in between: a page that is left now takes down what is not committed.
      tx.commit();
      await Promise.all([put, tx.done]);
    }
    const using = db.transaction('audio', 'readwrite');
    await whole(using, async () => {
      for (const { hash } of [project.take, ...project.stems]) {
        const entry = await using.store.get(hash);
        if (entry) await using.store.put({ ...entry, used: clock() });
      }
    });
  };

  const mark = async (id: string, removed: number | null) => {
    // In one transaction, so that what is saved meanwhile is not written over by what was read before.
    const tx = db.transaction('projects', 'readwrite');
    await whole(tx, async () => {
      const row = await tx.store.get(id);
      if (row) await tx.store.put({ ...row, removed });
    });
  };

  /** Notes that a recording is in use; false where it is not kept. In one transaction, so that it is not dropped in between. */
  const use = async (hash: string): Promise<boolean> => {
    const tx = db.transaction('audio', 'readwrite');
    return whole(tx, async () => {
      const entry = await tx.store.get(hash);
      if (entry) await tx.store.put({ ...entry, used: clock() });
      return entry !== undefined;
    });
  };

  /** Makes a recording of chunks that are all there; else none, and the numbers of those that are missing. */
  const enter = async (hash: string, bytes: number, chunks: number): Promise<number[]> => {
    const tx = db.transaction(['audio', 'chunks'], 'readwrite');
    return whole(tx, async () => {
      const there = await tx.objectStore('chunks').getAllKeys(chunksOf(hash));
      const known = new Set(there.map(([, i]) => i));
      const lost = Array.from({ length: chunks }, (_, i) => i).filter((i) => !known.has(i));
      if (lost.length === 0)
        await tx.objectStore('audio').put({ hash, bytes, chunks, used: clock() });
      return lost;
    });
  };

  /** Takes away the chunks of a file that is not kept after all, unless another window has kept it meanwhile. */
  const drop = async (hash: string): Promise<void> => {
    const tx = db.transaction(['audio', 'chunks'], 'readwrite');
    await whole(tx, async () => {
      if (!(await tx.objectStore('audio').getKey(hash)))
        await tx.objectStore('chunks').delete(chunksOf(hash));
    });
  };

  /** Each chunk in a transaction of its own; the entry comes last, so that a half-written file is none. */
  const put = async (hash: string, bytes: Uint8Array, progress?: Progress): Promise<void> => {
    const chunks = Math.max(1, Math.ceil(bytes.length / chunkBytes));
    const write = (i: number) =>
      db.put('chunks', bytes.slice(i * chunkBytes, (i + 1) * chunkBytes).buffer, [hash, i]);
    try {
      for (let i = 0; i < chunks; i++) {
        progress?.(i / chunks, 'keeping the recording');
        await write(i);
      }
      // Another window that gave up keeping the same file may have taken chunks away.
      for (let lost = await enter(hash, bytes.length, chunks); lost.length > 0; ) {
        for (const i of lost) await write(i);
        lost = await enter(hash, bytes.length, chunks);
      }
    } catch (error) {
      await drop(hash);
      throw error;
    }
  };

  /** Takes away chunks of files that were never kept whole and that nobody is keeping. */
  const sweep = async (): Promise<void> => {
    const entered = new Set(await db.getAllKeys('audio'));
    const begun = new Set((await db.getAllKeys('chunks')).map(([hash]) => hash));
    for (const hash of begun) if (!entered.has(hash)) await unlessKept(hash, () => drop(hash));
  };

  const cardsOf = async (removed: boolean): Promise<ProjectCard[]> => {
    const sizes = new Map((await db.getAll('audio')).map((entry) => [entry.hash, entry.bytes]));
    const cards: ProjectCard[] = [];
    for (const row of await db.getAll('projects')) {
      if ((row.removed !== null) !== removed) continue;
      try {
        const { project } = readProject(row.document);
        const audio = [project.take, ...project.stems].map((file) => sizes.get(file.hash) ?? 0);
        cards.push({
          id: project.id,
          name: project.name,
          created: project.created,
          changed: project.changed,
          seconds: project.take.seconds,
          bytes: JSON.stringify(project).length + audio.reduce((a, b) => a + b, 0),
        });
      } catch {
        // A document from a newer version stays where it is; it is only not offered here.
      }
    }
    return cards.sort((a, b) => (a.changed < b.changed ? 1 : a.changed > b.changed ? -1 : 0));
  };

  return {
    load,
    has: async (id) => (await db.getKey('projects', id)) !== undefined,
    save,
    list: () => cardsOf(false),
    removed: () => cardsOf(true),
    duplicate: async (id) => {
      const found = await load(id);
      if (!found) return null;
      const now = new Date(clock()).toISOString();
      const copy: Project = {
        ...found.project,
        id: crypto.randomUUID(),
        name: `${found.project.name}, copy`,
        created: now,
        changed: now,
      };
      await save(copy);
      return copy;
    },
    remove: (id) => {
      removedHere.add(id);
      return mark(id, clock());
    },
    restore: (id) => mark(id, null),
    putAudio: async (bytes, known, progress) => {
      const hash = known ?? (await hashOf(bytes));
      if (await use(hash)) return hash;
      await whileKeeping(hash, () => put(hash, bytes, progress));
      return hash;
    },
    getAudio: async (hash) => {
      const entry = await db.get('audio', hash);
      if (!entry) return null;
      const whole = new Uint8Array(entry.bytes);
      for (let i = 0; i < entry.chunks; i++) {
        const chunk = await db.get('chunks', [hash, i]);
        if (!chunk) return null;
        whole.set(new Uint8Array(chunk), i * chunkBytes);
      }
      return whole;
    },
    putHeard: async (key, value) => {
      // What an older version heard in the same recording is of no use any more.
      const [hash = key] = key.split(' ');
      for (const old of await db.getAllKeys('heard'))
        if (old.startsWith(hash)) await db.delete('heard', old);
      await db.put('heard', { key, value });
    },
    getHeard: async (key) => (await db.get('heard', key))?.value ?? null,
    collect: async () => {
      const old = clock() - day;
      const used = new Set<string>();
      // In one transaction: what is brought back or opened again meanwhile is not dropped for what it was before.
      const tx = db.transaction(['projects', 'audio', 'chunks', 'heard'], 'readwrite');
      const projects = tx.objectStore('projects');
      await whole(tx, async () => {
        for (const row of await projects.getAll()) {
          if (row.removed !== null && row.removed < old) await projects.delete(row.id);
          else for (const hash of hashesIn(row.document)) used.add(hash);
        }
        for (const { hash, used: last } of await tx.objectStore('audio').getAll()) {
          if (used.has(hash) || last >= old) continue;
          await tx.objectStore('audio').delete(hash);
          await tx.objectStore('chunks').delete(chunksOf(hash));
          for (const key of await tx.objectStore('heard').getAllKeys())
            if (key.startsWith(hash)) await tx.objectStore('heard').delete(key);
        }
      });
      await sweep();
    },
    close: () => db.close(),
  };
}

/** What is done in a transaction, once all of it is kept. Broken off, it fails once, not as its request and as a whole. */
async function whole<T>(tx: { readonly done: Promise<void> }, run: () => Promise<T>): Promise<T> {
  const [result] = await Promise.all([run(), tx.done]);
  return result;
}

/** The lock of a file that is being kept: windows and workers may keep the same one at once, and it ends with them. */
const keeping = (hash: string) => `unclicked keeps ${hash}`;

async function whileKeeping(hash: string, run: () => Promise<void>): Promise<void> {
  const locks = globalThis.navigator?.locks;
  if (locks) await locks.request(keeping(hash), { mode: 'shared' }, run);
  else await run();
}

/** Runs where nobody keeps a file just now; a browser without locks can't tell. */
async function unlessKept(hash: string, run: () => Promise<void>): Promise<void> {
  await globalThis.navigator?.locks?.request(keeping(hash), { ifAvailable: true }, (lock) =>
    lock ? run() : undefined,
  );
}

/** Every chunk of a recording, by their keys. */
const chunksOf = (hash: string) => IDBKeyRange.bound([hash], [hash, []]);

/** Every hash that a stored document mentions, whatever version wrote it. */
function hashesIn(document: unknown): string[] {
  return JSON.stringify(document ?? null).match(/\b[0-9a-f]{64}\b/g) ?? [];
}
