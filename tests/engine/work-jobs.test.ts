import { MessageChannel, type MessagePort, Worker } from 'node:worker_threads';
import { afterEach, describe, expect, expectTypeOf, it } from 'vitest';
import { InputError } from '../../shared/math/input-error.ts';
import type { Progress } from '../../shared/math/progress.ts';
import { createJobClient, isAbort, type WorkerLike } from '../../src/work/job-client.ts';
import { give, type Port, serveJobs } from '../../src/work/serve-jobs.ts';

/** Jobs for the page's own thread: they finish when the test says so. */
function deskJobs() {
  const gates = new Map<string, () => void>();
  const log: string[] = [];
  const jobs = {
    async wait({ name }: { name: string }, progress: Progress) {
      log.push(`${name} begins`);
      progress(0.5, name);
      await new Promise<void>((open) => gates.set(name, open));
      log.push(`${name} ends`);
      return name.length;
    },
    refuse({ sentence }: { sentence: boolean }): number {
      throw sentence ? new InputError('The file is empty; choose another.') : new Error('broken');
    },
    fill({ length }: { length: number }) {
      const samples = new Float32Array(length).fill(0.5);
      return give({ samples }, [samples]);
    },
    remember(input: string) {
      log.push(`remember ${input}`);
    },
  };
  return { jobs, gates, log };
}

const ends: (() => void)[] = [];
afterEach(() => {
  for (const end of ends.splice(0)) end();
});

/** A worker that lives on this thread, behind a real message channel. */
function nearWorker(
  jobs: ReturnType<typeof deskJobs>['jobs'],
  count: { spawned: number; ended: number },
): WorkerLike {
  const { port1, port2 } = new MessageChannel();
  count.spawned += 1;
  let alive = true;
  serveJobs(
    portOf(port2, () => alive),
    jobs,
  );
  const worker: WorkerLike = {
    postMessage: (message, transfer) => port1.postMessage(message, transfer as never),
    terminate: () => {
      count.ended += 1;
      alive = false;
      port1.close();
    },
    onmessage: null,
    onerror: null,
    onmessageerror: null,
  };
  port1.on('message', (data) => worker.onmessage?.({ data } as MessageEvent));
  ends.push(() => port1.close());
  return worker;
}

const portOf = (port: MessagePort, alive: () => boolean): Port => ({
  postMessage: (message, transfer) => {
    if (alive()) port.postMessage(message, transfer as never);
  },
  addEventListener: (_, listener) =>
    port.on('message', (data) => listener({ data } as MessageEvent)),
});

/** Waits until something holds; a turn of the event loop each time, no clock. */
async function until(holds: () => boolean) {
  while (!holds()) await new Promise((turn) => setImmediate(turn));
}

function setUp(prime: { job: 'remember'; input: string }[] = []) {
  const { jobs, gates, log } = deskJobs();
  const count = { spawned: 0, ended: 0 };
  const client = createJobClient<typeof jobs>({
    spawn: () => nearWorker(jobs, count),
    prime: () => prime,
  });
  ends.push(client.end);
  return { client, gates, log, count };
}

const never = new AbortController().signal;

describe('a line of jobs', () => {
  it('takes one after the other, in order', async () => {
    const { client, gates, log, count } = setUp();
    const results = ['a', 'bb', 'ccc'].map((name) => client.jobs.wait(never, { name }));
    for (const name of ['a', 'bb', 'ccc']) {
      await until(() => gates.has(name));
      gates.get(name)?.();
    }
    expect(await Promise.all(results)).toEqual([1, 2, 3]);
    expect(log).toEqual(['a begins', 'a ends', 'bb begins', 'bb ends', 'ccc begins', 'ccc ends']);
    expect(count.spawned).toBe(1);
  });

  it('types its calls by the jobs', () => {
    const { client } = setUp();
    expectTypeOf(client.jobs.wait).parameter(1).toEqualTypeOf<{ name: string }>();
    expectTypeOf(client.jobs.wait).returns.resolves.toEqualTypeOf<number>();
  });

  it('tells progress', async () => {
    const { client, gates } = setUp();
    const told: [number, string][] = [];
    const result = client.jobs.wait(never, { name: 'a' }, (share, doing) =>
      told.push([share, doing]),
    );
    await until(() => gates.has('a'));
    gates.get('a')?.();
    await result;
    expect(told).toEqual([[0.5, 'a']]);
  });

  it('keeps an error meant for a person apart from one that is not', async () => {
    const { client } = setUp();
    await expect(client.jobs.refuse(never, { sentence: true })).rejects.toBeInstanceOf(InputError);
    await expect(client.jobs.refuse(never, { sentence: false })).rejects.toThrow('broken');
    await expect(client.jobs.refuse(never, { sentence: false })).rejects.not.toBeInstanceOf(
      InputError,
    );
  });

  it('hands memory over instead of copying it', async () => {
    const { client } = setUp();
    const { samples } = await client.jobs.fill(never, { length: 1000 });
    expect(samples).toHaveLength(1000);
    expect(samples[999]).toBe(0.5);
  });

  it('does not begin what was given up while it waited, and does the rest', async () => {
    const { client, gates, log, count } = setUp();
    const first = client.jobs.wait(never, { name: 'a' });
    const wish = new AbortController();
    const second = client.jobs.wait(wish.signal, { name: 'b' });
    const third = client.jobs.wait(never, { name: 'c' });
    wish.abort();
    await expect(second).rejects.toSatisfy(isAbort);
    for (const name of ['a', 'c']) {
      await until(() => gates.has(name));
      gates.get(name)?.();
    }
    expect(await Promise.all([first, third])).toEqual([1, 1]);
    expect(log).not.toContain('b begins');
    expect(count).toEqual({ spawned: 1, ended: 0 });
  });

  it('ends the worker of a job that does not stop, primes a fresh one and goes on', async () => {
    const { client, gates, log, count } = setUp([{ job: 'remember', input: 'the take' }]);
    const wish = new AbortController();
    const first = client.jobs.wait(wish.signal, { name: 'endless' });
    await until(() => gates.has('endless'));
    wish.abort();
    await expect(first).rejects.toSatisfy(isAbort);
    const next = client.jobs.wait(never, { name: 'ok' });
    await until(() => gates.has('ok'));
    gates.get('ok')?.();
    expect(await next).toBe(2);
    expect(count).toEqual({ spawned: 2, ended: 1 });
    expect(log.filter((line) => line === 'remember the take')).toHaveLength(2);
  });

  it('drops what runs and what waits when it is ended, and starts afresh', async () => {
    const { client, gates, count } = setUp();
    const running = client.jobs.wait(never, { name: 'a' });
    const waiting = client.jobs.wait(never, { name: 'b' });
    await until(() => gates.has('a'));
    client.end();
    await expect(running).rejects.toSatisfy(isAbort);
    await expect(waiting).rejects.toSatisfy(isAbort);
    const next = client.jobs.wait(never, { name: 'c' });
    await until(() => gates.has('c'));
    gates.get('c')?.();
    expect(await next).toBe(1);
    expect(count).toEqual({ spawned: 2, ended: 1 });
  });

  it('goes on where an input cannot be handed over to the worker', async () => {
    const { client, gates, count } = setUp();
    const refused = client.jobs.wait(never, { name: (() => {}) as unknown as string });
    await expect(refused).rejects.toThrow(/could not be cloned/);
    const next = client.jobs.wait(never, { name: 'ok' });
    await until(() => gates.has('ok'));
    gates.get('ok')?.();
    expect(await next).toBe(2);
    expect(count).toEqual({ spawned: 1, ended: 0 });
  });

  it('goes on where a worker cannot be given what it has to know, or cannot be started', async () => {
    let trouble: 'prime' | 'spawn' | null = 'prime';
    const { jobs, gates } = deskJobs();
    const count = { spawned: 0, ended: 0 };
    const client = createJobClient<typeof jobs>({
      spawn: () => {
        if (trouble === 'spawn') throw new Error('no more workers');
        return nearWorker(jobs, count);
      },
      prime: () => [{ job: 'remember', input: trouble === 'prime' ? () => {} : 'the take' }],
    });
    ends.push(client.end);
    await expect(client.jobs.wait(never, { name: 'a' })).rejects.toThrow(/could not be cloned/);
    expect(count).toEqual({ spawned: 1, ended: 1 });
    trouble = 'spawn';
    await expect(client.jobs.wait(never, { name: 'b' })).rejects.toThrow('no more workers');
    trouble = null;
    const next = client.jobs.wait(never, { name: 'ok' });
    await until(() => gates.has('ok'));
    gates.get('ok')?.();
    expect(await next).toBe(2);
  });

  it('goes on where an answer cannot be read', async () => {
    const { jobs, gates } = deskJobs();
    const count = { spawned: 0, ended: 0 };
    const workers: WorkerLike[] = [];
    const client = createJobClient<typeof jobs>({
      spawn: () => {
        const worker = nearWorker(jobs, count);
        workers.push(worker);
        return worker;
      },
    });
    ends.push(client.end);
    const lost = client.jobs.wait(never, { name: 'a' });
    const next = client.jobs.wait(never, { name: 'ok' });
    await until(() => gates.has('a'));
    workers[0]?.onmessageerror?.({} as MessageEvent);
    await expect(lost).rejects.toThrow('There was no room for what the worker has made.');
    await until(() => gates.has('ok'));
    gates.get('ok')?.();
    expect(await next).toBe(2);
  });

  it('refuses at once what was given up before it was asked', async () => {
    const { client, count } = setUp();
    await expect(client.jobs.wait(AbortSignal.abort(), { name: 'a' })).rejects.toSatisfy(isAbort);
    expect(count.spawned).toBe(0);
  });
});

describe('a real worker', () => {
  /** Counts until it is stopped, as a busy engine would: it hears no message, only the shared number. */
  const busy = `
    const { parentPort } = require('node:worker_threads');
    parentPort.on('message', ({ id, job, stop }) => {
      if (job === 'answer') return parentPort.postMessage({ id, kind: 'done', result: 42 });
      parentPort.postMessage({ id, kind: 'progress', share: 0, doing: 'counting' });
      for (;;) if (job === 'obedient' && stop && Atomics.load(stop, 0) === id) break;
      parentPort.postMessage({ id, kind: 'stopped' });
    });`;
  type BusyJobs = { answer: () => number; obedient: () => number; deaf: () => number };

  const setUpReal = () => {
    let spawned = 0;
    const client = createJobClient<BusyJobs>({
      spawn: () => {
        spawned += 1;
        const thread = new Worker(busy, { eval: true });
        const worker: WorkerLike = {
          postMessage: (message) => thread.postMessage(message),
          terminate: () => thread.terminate(),
          onmessage: null,
          onerror: null,
          onmessageerror: null,
        };
        thread.on('message', (data) => worker.onmessage?.({ data } as MessageEvent));
        return worker;
      },
    });
    ends.push(client.end);
    return { client, spawned: () => spawned };
  };

  for (const [job, workers] of [
    ['obedient', 1],
    ['deaf', 2],
  ] as const)
    it(`is stopped in the middle of a ${job} job and answers the next one`, async () => {
      const { client, spawned } = setUpReal();
      const wish = new AbortController();
      let counting = false;
      const endless = client.jobs[job](wish.signal, undefined, () => {
        counting = true;
      });
      await until(() => counting);
      wish.abort();
      await expect(endless).rejects.toSatisfy(isAbort);
      expect(await client.jobs.answer(never, undefined)).toBe(42);
      expect(spawned()).toBe(workers);
    });
});
