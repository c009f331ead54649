import { InputError } from '../../shared/math/input-error.ts';
import type { Progress } from '../../shared/math/progress.ts';
import type { Jobs, Order, Reply } from './serve-jobs.ts';

/** The jobs as the page calls them. The types come from the jobs; the signal stands first so that none is forgotten. */
export type JobClient<J extends Jobs> = {
  readonly [K in keyof J]: (
    signal: AbortSignal,
    input: Parameters<J[K]>[0],
    progress?: Progress,
  ) => Promise<Awaited<ReturnType<J[K]>>>;
};

/** What a client needs of a worker. */
export interface WorkerLike {
  postMessage: (message: unknown, transfer: Transferable[]) => void;
  terminate: () => unknown;
  onmessage: ((event: MessageEvent) => void) | null;
  onerror: ((event: ErrorEvent) => void) | null;
  onmessageerror: ((event: MessageEvent) => void) | null;
}

export interface JobClientOptions<J extends Jobs> {
  readonly spawn: () => WorkerLike;
  /** The first jobs of each fresh worker: what it has to know after an older one was ended. */
  readonly prime?: () => readonly { readonly job: keyof J & string; readonly input: unknown }[];
}

/** How long a job that was told to stop may take to notice before its worker is ended, in milliseconds. */
const grace = 200;

interface Task {
  readonly id: number;
  readonly order: Omit<Order, 'id' | 'stop'>;
  readonly progress?: Progress;
  readonly settle: (reply: Extract<Reply, { kind: 'done' | 'failed' }>) => void;
  /** Tells the caller that there will be no result. */
  readonly drop: () => void;
  /** The job was given up; nobody waits for its result. */
  gone: boolean;
}

/**
 * One worker, one job at a time, the next ones waiting in line. Aborting a job that waits takes it out of
 * the line. Aborting the one that runs ends its worker, since a busy worker hears nothing; the next job
 * gets a fresh one. Where memory may be shared the job is first asked to stop by a shared number, which
 * spares the worker if it looks there soon.
 */
export function createJobClient<J extends Jobs>(
  options: JobClientOptions<J>,
): {
  readonly jobs: JobClient<J>;
  /** Ends the worker and drops what waits; the next job starts a fresh one. */
  readonly end: () => void;
} {
  let worker: WorkerLike | null = null;
  let running: Task | null = null;
  let lastId = 0;
  const line: Task[] = [];
  const stop =
    typeof SharedArrayBuffer === 'undefined' || globalThis.crossOriginIsolated === false
      ? null
      : new Int32Array(new SharedArrayBuffer(4)).fill(-1);

  const end = () => {
    worker?.terminate();
    worker = null;
    running = null;
  };

  const post = (to: WorkerLike, id: number, order: Task['order']) =>
    to.postMessage({ ...order, id, stop } satisfies Order, []);

  const start = (): WorkerLike => {
    const fresh = options.spawn();
    fresh.onmessage = (event) => {
      if (worker === fresh) hear(event.data as Reply);
    };
    const fail = (message: string) => {
      if (worker !== fresh) return;
      const task = running;
      end();
      task?.settle({ id: task.id, kind: 'failed', message, sentence: false });
      next();
    };
    fresh.onerror = (event) => fail(event.message || 'The worker could not be started.');
    fresh.onmessageerror = () => fail('There was no room for what the worker has made.');
    try {
      // Replies to these carry ids that no task has, so nobody hears them.
      for (const order of options.prime?.() ?? []) post(fresh, 0, order);
    } catch (error) {
      fresh.terminate();
      throw error;
    }
    return fresh;
  };

  const next = () => {
    if (running) return;
    const task = line.shift();
    if (!task) return;
    running = task;
    try {
      worker ??= start();
      post(worker, task.id, task.order);
    } catch (error) {
      // More than can be copied to a worker, or one that the browser does not start: the others need not wait for it.
      running = null;
      const message = error instanceof Error ? error.message : String(error);
      task.settle({ id: task.id, kind: 'failed', message, sentence: false });
      next();
    }
  };

  const hear = (reply: Reply) => {
    const task = running;
    if (!task || reply.id !== task.id) return;
    if (reply.kind === 'progress') {
      if (!task.gone) task.progress?.(reply.share, reply.doing);
      return;
    }
    running = null;
    if (!task.gone && reply.kind !== 'stopped') task.settle(reply);
    next();
  };

  const giveUp = (task: Task) => {
    task.gone = true;
    const waiting = line.indexOf(task);
    if (waiting >= 0) line.splice(waiting, 1);
    if (running !== task) return;
    const busy = worker;
    const endIfBusy = () => {
      if (running !== task || worker !== busy) return;
      end();
      next();
    };
    if (!stop) return endIfBusy();
    Atomics.store(stop, 0, task.id);
    setTimeout(endIfBusy, grace);
  };

  const call = (job: string, signal: AbortSignal, input: unknown, progress?: Progress) =>
    new Promise((resolve, reject) => {
      if (signal.aborted) return reject(signal.reason);
      const abort = () => {
        giveUp(task);
        reject(signal.reason);
      };
      lastId += 1;
      const task: Task = {
        id: lastId,
        order: { job, input },
        progress,
        gone: false,
        drop: () => {
          signal.removeEventListener('abort', abort);
          reject(new DOMException('The worker was ended.', 'AbortError'));
        },
        settle: (reply) => {
          signal.removeEventListener('abort', abort);
          if (reply.kind === 'done') resolve(reply.result);
          else reject(reply.sentence ? new InputError(reply.message) : new Error(reply.message));
        },
      };
      signal.addEventListener('abort', abort, { once: true });
      line.push(task);
      next();
    });

  const jobs = new Proxy({} as JobClient<J>, {
    get: (_, job) => (signal: AbortSignal, input: unknown, progress?: Progress) =>
      call(String(job), signal, input, progress),
  });
  return {
    jobs,
    end: () => {
      const left = [...(running ? [running] : []), ...line.splice(0)];
      end();
      for (const task of left) task.drop();
    },
  };
}

/** Whether an error only says that someone changed their mind. */
export function isAbort(error: unknown): boolean {
  return error instanceof DOMException && error.name === 'AbortError';
}

/** Asks a line, and once more each time that its worker was ended, for what is wanted all the same. */
export async function untilAnswered<T>(signal: AbortSignal, ask: () => Promise<T>): Promise<T> {
  for (;;)
    try {
      return await ask();
    } catch (error) {
      if (signal.aborted || !isAbort(error)) throw error;
    }
}
