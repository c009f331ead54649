import { type ChildProcess, spawn, spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { build } from 'vite';
import { expect } from 'vitest';
import type { Audio } from '../../shared/take/audio.ts';
import { type WavBits, writeWav } from '../../shared/take/wav-write.ts';

const home = fileURLToPath(new URL('../..', import.meta.url));

/** What one call of the command did. */
export interface Ran {
  readonly code: number | null;
  readonly out: string;
  readonly err: string;
}

export interface Command {
  /** A fresh folder, and the path of a file in it. */
  readonly folder: string;
  /** Where the built command lies. */
  readonly outDir: string;
  readonly at: (...path: string[]) => string;
  readonly run: (...args: string[]) => Ran;
  /** The same without waiting: the process, and the code that it ends with. */
  readonly start: (...args: string[]) => { process: ChildProcess; ended: Promise<number | null> };
  /** Takes away all that was made. */
  readonly clean: () => void;
}

/**
 * Builds the command apart from `dist` (which may be older than the source), and gives a way to call it as
 * a process of its own in an empty folder.
 */
export async function buildCommand(): Promise<Command> {
  const cache = join(home, 'node_modules', '.cache', 'unclicked');
  mkdirSync(cache, { recursive: true });
  const outDir = mkdtempSync(join(cache, 'command-'));
  await build({
    configFile: join(home, 'vite.config.ts'),
    mode: 'cli',
    logLevel: 'silent',
    build: { outDir, emptyOutDir: false },
  });
  const folder = mkdtempSync(join(tmpdir(), 'unclicked-'));
  return {
    folder,
    outDir,
    at: (...path) => join(folder, ...path),
    run: (...args) => {
      const ran = spawnSync(process.execPath, [join(outDir, 'cli.js'), ...args], {
        cwd: folder,
        encoding: 'utf8',
        maxBuffer: 1 << 28,
      });
      return { code: ran.status, out: ran.stdout, err: ran.stderr };
    },
    start: (...args) => {
      const started = spawn(process.execPath, [join(outDir, 'cli.js'), ...args], { cwd: folder });
      const ended = new Promise<number | null>((resolve) => started.once('exit', resolve));
      return { process: started, ended };
    },
    clean: () => {
      for (const made of [outDir, folder]) rmSync(made, { recursive: true, force: true });
    },
  };
}

/** Calls what must fail: one line on stderr, nothing on stdout, and the exit code that the contract says. */
export function refusalBy(command: Command, code: number, ...args: string[]): string {
  const ran = command.run(...args);
  expect(ran.code, ran.err).toBe(code);
  expect(ran.out).toBe('');
  expect(ran.err).toMatch(/^unclicked: [^\n]+\.\n$/);
  return ran.err;
}

export function saveWav(path: string, audio: Audio, bits: WavBits): void {
  writeFileSync(path, writeWav(audio, { bits }));
}
