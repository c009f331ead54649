import { spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import {
  closeSync,
  mkdirSync,
  mkdtempSync,
  openSync,
  rmSync,
  statSync,
  writeFileSync,
  writeSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { build } from 'vite';
import { writeProjectZip } from '../../shared/pack/project-zip.ts';
import type { Audio } from '../../shared/take/audio.ts';
import { writeWav } from '../../shared/take/wav-write.ts';
import { freeTimes, plucks } from '../engine/plucks.ts';

/*
 * Packs a take of three minutes with three stems and two lanes as the command does, in a process of its
 * own. Goals: under 15 s on two cores with nothing else running, memory under 1.5 times the float size of
 * the audio (above what an empty Node holds).
 */

const home = fileURLToPath(new URL('../..', import.meta.url));
const seconds = 180;
const sampleRate = 44100;
/** Bars of each lane: `npm run bench pack 4`. */
const bars = Number(process.argv[2] ?? 8);

async function main(): Promise<void> {
  const folder = mkdtempSync(join(tmpdir(), 'unclicked-bench-'));
  try {
    const cli = join(folder, 'cli');
    mkdirSync(cli);
    // The build starts the command once, so Node must know what kind of module it is.
    writeFileSync(join(cli, 'package.json'), '{ "type": "module" }');
    await build({
      configFile: join(home, 'vite.config.ts'),
      mode: 'cli',
      logLevel: 'silent',
      build: { outDir: cli, emptyOutDir: false },
    });
    const project = join(folder, 'project.zip');
    await writeProject(project);
    const measured = join(cli, 'measured.mjs');
    const empty = runMeasured(measured, ['--help'], cli);
    const times: number[] = [];
    const runs: Measured[] = [];
    for (let run = 0; run < 3; run++) {
      const from = performance.now();
      const to = join(folder, 'pack.zip');
      runs.push(runMeasured(measured, ['pack', project, '--to', to, '--force'], cli));
      times.push((performance.now() - from) / 1000);
    }
    const size = statSync(join(folder, 'pack.zip')).size / 2 ** 20;
    const floats = (seconds * sampleRate * 2 * 4 * 4) / 2 ** 20;
    const memory = Math.max(...runs.map((run) => run.held));
    const held = (memory - empty.held) / floats;
    const best = Math.min(...times);
    const list = (values: readonly number[]) => values.map((value) => value.toFixed(1)).join(', ');
    console.log(`pack: 3 minutes, 3 stems, 2 lanes of ${bars} bars; three runs`);
    console.log(
      `  time    ${list(times)} s, best ${best.toFixed(1)}; goal 15 with nothing else running`,
    );
    console.log(`  busy    ${list(runs.map((run) => run.busy))} s of a processor`);
    console.log(
      `  memory  ${memory.toFixed(0)} MiB, ${empty.held.toFixed(0)} of them an idle Node: ${held.toFixed(2)} times the audio's ${floats.toFixed(0)} MiB; goal 1.5`,
    );
    console.log(`  pack    ${size.toFixed(0)} MiB`);
    process.exitCode = best < 15 && held < 1.5 ? 0 : 1;
  } finally {
    rmSync(folder, { recursive: true });
  }
}

/** What one call held at most, in MiB, and the processor's time it took, in seconds. */
interface Measured {
  readonly held: number;
  readonly busy: number;
}

/** Calls the command and measures it from inside. */
function runMeasured(script: string, args: readonly string[], cli: string): Measured {
  // What the system says of a process's memory may include its parent's; the high-water mark does not.
  const code = `import { readFileSync } from 'node:fs';
process.on('exit', () => {
  const { user, system } = process.cpuUsage();
  let held = process.resourceUsage().maxRSS;
  try { held = Number(/VmHWM:\\s+(\\d+)/.exec(readFileSync('/proc/self/status', 'utf8'))[1]); } catch {}
  console.error('measured ' + held + ' ' + (user + system));
});
process.argv.splice(1, 1);
await import('./cli.js');`;
  writeFileSync(script, code);
  const ran = spawnSync(process.execPath, [script, join(cli, 'cli.js'), ...args], {
    encoding: 'utf8',
  });
  const [, held, busy] = /measured (\d+) (\d+)/.exec(ran.stderr) ?? [];
  if (ran.status !== 0 || !held) throw new Error(`The command failed: ${ran.stderr}`);
  return { held: Number(held) / 1024, busy: Number(busy) / 1e6 };
}

async function writeProject(path: string): Promise<void> {
  const times = freeTimes(340).filter((time) => time < seconds - 2);
  const stems = [0, -12, 7].map((transpose) => plucks(times, seconds, 0.2, transpose));
  const mix: Audio = {
    sampleRate,
    channels: [0, 1].map((c) =>
      stems[0].channels[c].map((v, i) => v + stems[1].channels[c][i] + stems[2].channels[c][i]),
    ),
  };
  const files = [mix, ...stems].map((audio, i) => {
    const bytes = writeWav(audio, { bits: '24' });
    const hash = createHash('sha256').update(bytes).digest('hex');
    return { hash, name: `part ${i}.wav`, sampleRate, channels: 2, seconds, bytes: () => bytes };
  });
  const settings = { beatsPerBar: 4, beatUnit: 4, steady: 100, tighten: 0, grid: '16', swing: 50 };
  const slices = times.slice(0, -1).map((time, i) => ({
    id: `s${i}`,
    start: time - 0.005,
    landing: time,
    end: times[i + 1] - 0.006,
  }));
  const placements = Array.from({ length: 4 * bars }, (_, i) => ({
    id: `p${i}`,
    slice: `s${(i * 13) % 64}`,
    at: i,
  }));
  const document = {
    version: 1,
    id: 'bench',
    name: 'Bench',
    created: '2026-01-01T00:00:00.000Z',
    changed: '2026-01-01T00:00:00.000Z',
    take: files[0],
    stems: files.slice(1).map((file, i) => ({ ...file, label: `Part ${i + 1}`, variant: null })),
    slices,
    lanes: [
      {
        ...settings,
        id: 'l1',
        name: 'straight',
        bars,
        bpm: 112,
        source: { kind: 'straight', from: times[8], until: times[8 + 4 * bars] },
      },
      {
        ...settings,
        id: 'l2',
        name: 'flip',
        bars,
        bpm: 96,
        source: { kind: 'flip', placements },
      },
    ],
  };
  const file = openSync(path, 'w');
  for await (const piece of writeProjectZip(JSON.stringify(document), files, document.changed))
    writeSync(file, piece);
  closeSync(file);
}

await main();
