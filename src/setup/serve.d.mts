import type { Server } from 'node:http';

export const headers: Readonly<Record<string, string>>;
export function serve(folder: string, port?: number): Promise<{ server: Server; address: string }>;
