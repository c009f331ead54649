import { jobs } from './jobs.ts';
import { type Port, serveJobs } from './serve-jobs.ts';

serveJobs(self as unknown as Port, jobs);
