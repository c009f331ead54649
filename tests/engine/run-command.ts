import { spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { build } from 'vite';
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
  readonly at: (...path: string[]) => string;
  readonly run: (...args: string[]) => Ran;
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
  // Beside the bundle there is no package.json that would say what kind of module it is.
  writeFileSync(join(outDir, 'package.json'), '{ "type": "module" }');
  const folder = mkdtempSync(join(tmpdir(), 'unclicked-'));
  return {
    folder,
    at: (...path) => join(folder, ...path),
    run: (...args) => {
      const ran = spawnSync(process.execPath, [join(outDir, 'cli.js'), ...args], {
        cwd: folder,
        encoding: 'utf8',
        maxBuffer: 1 << 28,
      });
      return { code: ran.status, out: ran.stdout, err: ran.stderr };
    },
  };
}

/** Plucked tones of changing pitch on the given moments. */
export function plucks(
  times: readonly number[],
  seconds: number,
  gain: number,
  transpose = 0,
): Audio {
  const sampleRate = 44100;
  const channel = new Float32Array(Math.round(seconds * sampleRate));
  times.forEach((time, k) => {
    const hertz = 196 * 2 ** (([0, 3, 7, 10, 5][k % 5] + transpose) / 12);
    const from = Math.round(time * sampleRate);
    for (let i = 0; i < sampleRate * 0.8 && from + i < channel.length; i++) {
      const t = i / sampleRate;
      const tone = Math.sin(2 * Math.PI * hertz * t) + 0.4 * Math.sin(4 * Math.PI * hertz * t);
      channel[from + i] +=
        gain * Math.exp(-4 * t) * (1 - t / 0.8) ** 2 * Math.min(1, i / 40) * tone;
    }
  });
  return { sampleRate, channels: [channel, channel.map((v) => v * 0.8)] };
}

export function saveWav(path: string, audio: Audio, bits: WavBits): void {
  writeFileSync(path, writeWav(audio, { bits }));
}

/** Moments about half a second apart that slow down and hurry. */
export function freeTimes(count: number, first = 0.5): number[] {
  const times: number[] = [];
  for (let i = 0, t = first; i < count; i++) {
    times.push(t);
    t += 0.5 + 0.07 * Math.sin(i / 3);
  }
  return times;
}
