import { spawn } from 'node:child_process';
import { readdirSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { home, install, run } from './install.mjs';
import { serve } from './serve.mjs';

/** Newest change below a path, in milliseconds. */
function newest(path) {
  const entry = statSync(path, { throwIfNoEntry: false });
  if (!entry) return 0;
  if (!entry.isDirectory()) return entry.mtimeMs;
  return Math.max(0, ...readdirSync(path).map((name) => newest(join(path, name))));
}

/** Opens the address in the person's browser where there is a screen; says nothing where there is none. */
function openInBrowser(address) {
  if (!process.stdout.isTTY || process.env.CI) return;
  const [command, ...args] =
    process.platform === 'darwin'
      ? ['open', address]
      : process.platform === 'win32'
        ? ['cmd', '/c', 'start', '', address]
        : ['xdg-open', address];
  spawn(command, args, { stdio: 'ignore', detached: true })
    .on('error', () => {})
    .unref();
}

install();
const sources = [
  'src',
  'shared',
  'demo',
  'public',
  'package-lock.json',
  'vite.config.ts',
  'tsconfig.json',
];
const changed = Math.max(...sources.map((name) => newest(join(home, name))));
const built = Math.min(
  newest(join(home, 'dist/page/index.html')),
  newest(join(home, 'dist/cli.js')),
);
if (built < changed) {
  console.log('Building ...');
  const status = run('npm', ['run', '--silent', 'build']);
  if (status !== 0) process.exit(status);
}
const { address } = await serve(join(home, 'dist', 'page'), Number(process.env.PORT ?? 0));
console.log(`Unclicked is at ${address} (only on this machine; Ctrl+C ends it).`);
openInBrowser(address);
