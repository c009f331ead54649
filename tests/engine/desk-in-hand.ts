import { IDBFactory } from 'fake-indexeddb';
import { createRoot, getOwner, runWithOwner } from 'solid-js';
import { vi } from 'vitest';
import type { HeardTake } from '../../shared/cut/hear-take.ts';
import type { Beat, Fix } from '../../shared/hear/heard.ts';
import type { Audio } from '../../shared/take/audio.ts';
import { readRecording } from '../../shared/take/recording-read.ts';
import { writeWav } from '../../shared/take/wav-write.ts';
import { hashOf } from '../../src/store/hash.ts';
import { type Library, openLibrary } from '../../src/store/library.ts';
import { createSettings } from '../../src/store/settings.ts';
import { createDesk, type Desk } from '../../src/work/desk.ts';
import type { FileHere, KeptFile, RenderInput, WorkerJobs } from '../../src/work/jobs.ts';
import { type Job, type Port, serveJobs } from '../../src/work/serve-jobs.ts';
import { fakeLocks } from './fake-locks.ts';

/**
 * The desk without a browser: its workers answer with what is quickly made up, and when the test says so. What
 * the desk does while an answer is out is what these tests look at, never what is heard.
 */
export interface DeskInHand {
  readonly desk: Desk;
  /** To what the browser keeps, in the order in which they were opened. */
  readonly connections: readonly IDBDatabase[];
  /** The page opened once more, in the same browser. */
  readonly again: () => Desk;
  /** Does something as a part of the page does it that ends with the desk. */
  readonly owned: (run: () => void) => void;
  /** What the browser keeps, seen from beside the desk. */
  readonly shelf: Library;
  /** The next time that a job is asked for its answer stays out until `answer`; `asked` settles once a worker is at it. */
  readonly hold: (job: keyof WorkerJobs) => { asked: Promise<void>; answer: () => void };
  /** What the jobs were given, in the order in which workers began them. */
  readonly given: { readonly job: string; readonly input: unknown }[];
}

interface Gate {
  readonly come: () => void;
  readonly open: Promise<void>;
}

const rate = 8000;
const seconds = 4;

/** A recording of four seconds; another `level` is another recording. */
export function recording(name: string, level = 0.1): File {
  const samples = new Float32Array(seconds * rate).fill(level);
  const wav = writeWav({ sampleRate: rate, channels: [samples] }, { bits: '16' });
  return new File([wav as Uint8Array<ArrayBuffer>], name);
}

/** Eight beats; each fix moves them a hundredth of a second, so that beats tell how many fixes they hold. */
export const beatsAfter = (fixes: number): Beat[] =>
  Array.from({ length: 8 }, (_, i) => ({
    time: 0.25 + i / 2 + fixes / 100,
    confidence: 0.9,
    count: (i % 4) + 1,
    by: 'heard',
  }));

const heard = {
  onsets: [],
  evidence: {},
  phrases: [{ start: 0.2, end: 3.9, like: null }],
  levels: {},
  tuning: { a4: 440, cents: 0, confidence: 0 },
  key: { tonic: 'C', mode: 'unclear', confidence: 0 },
  loudness: { integrated: -20 },
  stemTunings: [],
  peaks: { levels: [] },
} as unknown as HeardTake;

const slices = [0, 1, 2].map((i) => ({ start: i, landing: i + 0.25, end: i + 1 }));

/** Sets the desk up in a fresh browser profile, and takes it down after the test's own part. */
export async function withDesk(run: (hand: DeskInHand) => Promise<void>): Promise<void> {
  const stored = new Map<string, string>();
  vi.stubGlobal('indexedDB', new IDBFactory());
  vi.stubGlobal('document', Object.assign(new EventTarget(), { visibilityState: 'visible' }));
  const window = new EventTarget();
  vi.stubGlobal('addEventListener', window.addEventListener.bind(window));
  vi.stubGlobal('removeEventListener', window.removeEventListener.bind(window));
  vi.stubGlobal('dispatchEvent', window.dispatchEvent.bind(window));
  vi.stubGlobal('navigator', { locks: fakeLocks() });
  vi.stubGlobal('localStorage', {
    getItem: (key: string) => stored.get(key) ?? null,
    setItem: (key: string, value: string) => stored.set(key, value),
  });
  const connections: IDBDatabase[] = [];
  const { open: openStore } = indexedDB;
  vi.spyOn(indexedDB, 'open').mockImplementation((...all) => {
    const opening = openStore.apply(indexedDB, all);
    opening.addEventListener('success', () => connections.push(opening.result));
    return opening;
  });
  const shelf = await openLibrary();
  const gates = new Map<string, Gate[]>();
  const given: { job: string; input: unknown }[] = [];

  /** What a worker does, but for the engine. Each has its own take. */
  const workerJobs = () => {
    let kept: { mix: Audio; stems: readonly Audio[] } | null = null;
    return {
      read: async (file: FileHere | KeptFile) => {
        const bytes =
          'blob' in file
            ? new Uint8Array(await file.blob.arrayBuffer())
            : await shelf.getAudio(file.hash);
        if (!bytes) return null;
        const { audio } = readRecording(bytes, file.name);
        return { audio, hash: await hashOf(bytes), note: null };
      },
      keepFile: async ({ blob, hash }: { blob: Blob; hash: string }) => {
        await shelf.putAudio(new Uint8Array(await blob.arrayBuffer()), hash);
        return true;
      },
      keepTake: (next: typeof kept) => {
        kept = next;
      },
      keepEvidence: () => {},
      hear: ({ fixes }: { fixes: readonly Fix[] }) => ({
        ...heard,
        beats: beatsAfter(fixes.length),
      }),
      infer: ({ fixes }: { fixes: readonly Fix[] }) => beatsAfter(fixes.length),
      suggest: () => slices,
      render: ({ stems }: RenderInput) => ({
        outputs: kept ? [kept.mix, ...(stems ? kept.stems : [])] : [],
        loudness: { integrated: -20 },
        originalLoudness: { integrated: -20 },
        seam: { verdict: 'quiet' },
        landings: [],
      }),
      pitch: () => (kept ? [kept.mix, ...kept.stems] : []),
      track: () => [],
      pack: () => new Blob(['pack']),
      storedBits: () => '16',
      loopFiles: () => [{ name: 'loop.wav', bytes: new Uint8Array(4) }],
      projectZip: () => new Blob(['project']),
    };
  };
  const gated = (jobs: object): Record<string, Job> =>
    Object.fromEntries(
      Object.entries(jobs).map(([name, job]) => [
        name,
        async (input: never) => {
          given.push({ job: name, input });
          const gate = gates.get(name)?.shift();
          gate?.come();
          await gate?.open;
          return job(input);
        },
      ]),
    );

  class NearWorker {
    onmessage: ((event: MessageEvent) => void) | null = null;
    onerror = null;
    private alive = true;
    private readonly hear: (event: MessageEvent) => void;
    constructor() {
      let hear: (event: MessageEvent) => void = () => {};
      const port: Port = {
        postMessage: (data) =>
          queueMicrotask(() => this.alive && this.onmessage?.({ data } as MessageEvent)),
        addEventListener: (_, listener) => {
          hear = listener;
        },
      };
      serveJobs(port, gated(workerJobs()));
      this.hear = hear;
    }
    postMessage(data: unknown) {
      queueMicrotask(() => this.alive && this.hear({ data } as MessageEvent));
    }
    terminate() {
      this.alive = false;
    }
  }
  vi.stubGlobal('Worker', NearWorker);

  const hold: DeskInHand['hold'] = (job) => {
    let come = () => {};
    let answer = () => {};
    const asked = new Promise<void>((done) => {
      come = done;
    });
    const open = new Promise<void>((done) => {
      answer = done;
    });
    gates.set(job, [...(gates.get(job) ?? []), { come, open }]);
    return { asked, answer };
  };

  await createRoot(async (dispose) => {
    try {
      const owner = getOwner();
      const owned: DeskInHand['owned'] = (run) => void runWithOwner(owner, run);
      const open = () => createDesk(createSettings());
      const again = () => runWithOwner(owner, open) as Desk;
      await run({ desk: open(), again, owned, connections, shelf, hold, given });
    } finally {
      dispose();
      shelf.close();
      vi.unstubAllGlobals();
      vi.restoreAllMocks();
    }
  });
}

/** Waits until something holds; a turn of the event loop each time, no clock. */
export async function until(holds: () => boolean): Promise<void> {
  while (!holds()) await new Promise((turn) => setImmediate(turn));
}
