import { fileURLToPath } from 'node:url';
import { defineConfig } from 'vitest/config';

/** Engine, reference, fuzz and the browser all run under one runner; one file at a time (two cores). */
export default defineConfig({
  root: fileURLToPath(new URL('..', import.meta.url)),
  test: {
    include: ['tests/**/*.test.ts'],
    maxWorkers: 2,
    testTimeout: 120_000,
    hookTimeout: 240_000,
  },
});
