import type { Server } from 'node:http';

export function serveAtHome(
  folder: string,
  chosen: string | undefined,
  usual?: number,
): Promise<{ server: Server | null; address: string; words: string }>;
