import { InputError } from '../../shared/math/input-error.ts';
import type { Progress } from '../../shared/math/progress.ts';

/** Work done apart from the page: one input, one result, progress on the way. */
export type Job = (input: never, progress: Progress) => unknown;
export type Jobs = Readonly<Record<string, Job>>;

/** Page to worker. `stop` is one shared number that the page sets to the id of the job to give up. */
export interface Order {
  readonly id: number;
  readonly job: string;
  readonly input: unknown;
  readonly stop: Int32Array | null;
}

/** Worker to page. `sentence`: an error meant for a person. */
export type Reply =
  | {
      readonly id: number;
      readonly kind: 'progress';
      readonly share: number;
      readonly doing: string;
    }
  | { readonly id: number; readonly kind: 'done'; readonly result: unknown }
  | { readonly id: number; readonly kind: 'stopped' }
  | {
      readonly id: number;
      readonly kind: 'failed';
      readonly message: string;
      readonly sentence: boolean;
    };

/** What jobs and page talk through: a worker, or one end of a channel. */
export interface Port {
  postMessage: (message: unknown, transfer: Transferable[]) => void;
  addEventListener: (type: 'message', listener: (event: MessageEvent) => void) => void;
}

class Stopped extends Error {}

const given = new WeakMap<object, Transferable[]>();

/** Marks a result whose memory goes over to the page instead of being copied. The job must not keep it. */
export function give<T extends object>(
  result: T,
  memory: readonly (ArrayBufferView | undefined)[],
): T {
  const buffers = new Set(
    memory.flatMap((view) => (view?.buffer instanceof ArrayBuffer ? [view.buffer] : [])),
  );
  given.set(result, [...buffers]);
  return result;
}

/** Progress is told at most this often, in milliseconds. */
const often = 50;

/** Answers orders with jobs, one after the other in the order in which they come. */
export function serveJobs(port: Port, jobs: Jobs): void {
  let queue = Promise.resolve();
  port.addEventListener('message', (event: MessageEvent) => {
    const order = event.data as Order;
    queue = queue.then(async () => {
      const reply = (message: Reply, transfer: Transferable[] = []) =>
        port.postMessage(message, transfer);
      const { id, stop } = order;
      let told = 0;
      const progress: Progress = (share, doing) => {
        if (stop && Atomics.load(stop, 0) === id) throw new Stopped();
        const now = performance.now();
        if (now - told < often && share < 1) return;
        told = now;
        reply({ id, kind: 'progress', share, doing });
      };
      try {
        const job = jobs[order.job];
        if (!job) throw new Error(`There is no job called ${order.job}.`);
        // Each job has an input of its own; the client's types, which come from the jobs, let no other in.
        const result = await job(order.input as never, progress);
        const memory = typeof result === 'object' && result ? given.get(result) : undefined;
        reply({ id, kind: 'done', result }, memory);
      } catch (error) {
        if (error instanceof Stopped) reply({ id, kind: 'stopped' });
        else {
          const message = error instanceof Error ? error.message : String(error);
          reply({ id, kind: 'failed', message, sentence: error instanceof InputError });
        }
      }
    });
  });
}
