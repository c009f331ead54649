import { spawn } from 'node:child_process';
import { readdirSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { serveAtHome } from './home-address.mjs';
import { home, install, run } from './install.mjs';

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
try {
  const { address, words } = await serveAtHome(
    join(home, 'dist', 'page'),
    process.env.PORT || undefined,
  );
  console.log(words);
  openInBrowser(address);
} catch (error) {
  console.error(error.message);
  process.exit(1);
}
