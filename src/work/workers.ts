import { createJobClient, type JobClientOptions } from './job-client.ts';
import type { WorkerJobs } from './jobs.ts';

/** A line of jobs in a worker of its own. */
export function createWorkerLine(options: Pick<JobClientOptions<WorkerJobs>, 'prime'>) {
  return createJobClient<WorkerJobs>({
    ...options,
    spawn: () => new Worker(new URL('./worker.ts', import.meta.url), { type: 'module' }),
  });
}

export type WorkerLine = ReturnType<typeof createWorkerLine>;
