import { fileURLToPath } from 'node:url';
import { defineConfig } from 'vitest/config';

/** Engine, reference, fuzz and the browser all run under one runner; one file at a time (two cores). */
export default defineConfig({
  root: fileURLToPath(new URL('..', import.meta.url)),
  // Solid as the page runs it: under Node it would take the version that renders once on a server.
  resolve: { conditions: ['browser', 'module', 'import', 'default'] },
  ssr: { resolve: { conditions: ['browser', 'module', 'import', 'default'] } },
  test: {
    include: ['tests/**/*.test.ts'],
    globalSetup: ['tests/app/find-chromium.ts'],
    server: { deps: { inline: [/solid-js/] } },
    maxWorkers: 2,
    // For what hangs, not for what is slow: a busy machine takes five times as long as an idle one.
    testTimeout: 300_000,
    expect: { poll: { timeout: 30_000 } },
    hookTimeout: 240_000,
  },
});
