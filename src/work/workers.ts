import { createJobClient, type JobClientOptions } from './job-client.ts';
import type { WorkerJobs } from './jobs.ts';
import workerUrl from './worker.ts?worker&url';

/** Changes with the engine: the built worker's file name carries a hash of all its code. */
export const workerVersion = workerUrl.replace(/^.*\//, '');

/** A line of jobs in a worker of its own. */
export function createWorkerLine(options: Pick<JobClientOptions<WorkerJobs>, 'prime'>) {
  return createJobClient<WorkerJobs>({
    ...options,
    spawn: () => new Worker(workerUrl, { type: 'module' }),
  });
}

export type WorkerLine = ReturnType<typeof createWorkerLine>;
