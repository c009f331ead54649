import { spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

/** The project's own folder. */
export const home = fileURLToPath(new URL('../..', import.meta.url));

/** Runs a program of the project and hands back its exit status; its output goes where ours goes. */
export function run(command, args, options = {}) {
  const windows = process.platform === 'win32';
  const done = spawnSync(command, args, {
    cwd: home,
    stdio: 'inherit',
    shell: windows,
    ...options,
  });
  if (done.error) throw done.error;
  return done.status ?? 1;
}

/** Path of a program that an installed package brings. */
export function program(name) {
  return join(home, 'node_modules', '.bin', name);
}

/**
 * Installs what the lock file names, when it or Node's version is another one than at the last
 * install. The stamp lies in node_modules, so deleting that folder is enough to begin anew.
 */
export function install() {
  const [major] = process.versions.node.split('.').map(Number);
  if (major < 20) {
    console.error(`Node ${process.version} is too old; install Node 20 or newer.`);
    process.exit(1);
  }
  const stamp = join(home, 'node_modules', '.cache', 'unclicked', 'installed');
  const lock = readFileSync(join(home, 'package-lock.json'));
  const wanted = createHash('sha256').update(lock).update(process.version).digest('hex');
  if (existsSync(stamp) && readFileSync(stamp, 'utf8') === wanted) return;
  console.log('Installing what the lock file names ...');
  const status = run('npm', ['ci', '--no-audit', '--no-fund', '--loglevel=error']);
  if (status !== 0) process.exit(status);
  mkdirSync(dirname(stamp), { recursive: true });
  writeFileSync(stamp, wanted);
}
