/**
 * Teaches the ear what an attack looks like and writes `shared/hear/onset-weights.ts`.
 *
 *   npx tsx tests/bench/fit-onsets.ts [--lessons 520] [--workers 2] [--epochs 25] [--hidden 48,20]
 *
 * First it plays lessons (seeded, so always the same ones) and keeps what the ear's views see of them;
 * then `onsets/teach.py` fits the network. Needs fluidsynth, FluidR3_GM, MuseScore_General (both MIT;
 * LESSON_FONT and LESSON_FONT_2 say where they lie elsewhere) and a python3 with numpy and PyTorch.
 * An hour on two cores, five minutes on sixteen and a graphics card.
 */
import { spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { isMainThread, Worker, workerData } from 'node:worker_threads';
import { toAnalysisRate } from '../../shared/hear/analysis-rate.ts';
import { CELL, cellOffset, cellsOf, VIEWS, viewLevels } from '../../shared/hear/onset-features.ts';
import { mixForHearing } from '../../shared/hear/onset-mix.ts';
import { PARTS } from '../../shared/hear/onset-net.ts';
import { LESSON_CACHE, renderLesson } from './onsets/lesson-audio.ts';
import { makeLesson } from './onsets/lesson-music.ts';

const LESSON_SECONDS = 40;
const FONTS = [
  process.env.LESSON_FONT ?? '/usr/share/sounds/sf2/FluidR3_GM.sf2',
  process.env.LESSON_FONT_2 ?? '/usr/share/sounds/sf2/MuseScore_General_Full.sf2',
].filter((path) => existsSync(path));
/** Levels are kept as whole numbers of this many to a doubling. */
const STEPS = 2000;

/** Writes what each view sees of a lesson, frame after frame, and beside it the truth. */
function keepLesson(seed: number): void {
  const lesson = makeLesson(seed, LESSON_SECONDS);
  const font = FONTS[seed % 3 === 2 ? FONTS.length - 1 : 0];
  renderLesson(lesson, font).forEach(({ channels, rate, attacks }, i) => {
    const signal = toAnalysisRate(mixForHearing({ sampleRate: rate, channels }), rate);
    const cells = cellsOf(signal);
    const parts = viewLevels(signal).map((levels) => {
      const inside = levels.data.subarray(cellOffset(levels, 0), cellOffset(levels, cells));
      const whole = Int16Array.from(inside, (x) => Math.round(Math.min(16, x) * STEPS));
      return Buffer.from(whole.buffer);
    });
    const name = join(
      LESSON_CACHE,
      `${String(seed).padStart(4, '0')}-${i === 0 ? 'clean' : 'old'}`,
    );
    writeFileSync(`${name}.levels`, Buffer.concat(parts));
    const times = attacks.map((attack) => attack.time);
    writeFileSync(`${name}.json`, JSON.stringify({ cells, attacks: times }));
  });
}

async function main(): Promise<void> {
  const { values } = parseArgs({
    options: {
      lessons: { type: 'string', default: '520' },
      workers: { type: 'string', default: '2' },
      epochs: { type: 'string', default: '25' },
      hidden: { type: 'string', default: '48,20' },
      to: { type: 'string', default: 'shared/hear/onset-weights.ts' },
    },
  });
  mkdirSync(LESSON_CACHE, { recursive: true });
  const next = new Int32Array(new SharedArrayBuffer(4));
  const team = Array.from({ length: Number(values.workers) }, () => {
    const one = new Worker(new URL(import.meta.url), {
      workerData: { next, lessons: Number(values.lessons) },
    });
    return new Promise<void>((resolve, reject) => one.once('exit', resolve).once('error', reject));
  });
  await Promise.all(team);
  const layout = {
    steps: STEPS,
    cellSeconds: CELL / 22050,
    parts: PARTS,
    hidden: values.hidden.split(',').map(Number),
    epochs: Number(values.epochs),
    views: VIEWS.map(({ edges, perCell, from, frames, step }) => ({
      bands: edges.length - 1,
      perCell,
      from,
      frames,
      step,
    })),
  };
  writeFileSync(join(LESSON_CACHE, 'layout'), JSON.stringify(layout));
  const teach = process.env.LESSON_TEACHER ?? 'tests/bench/onsets/teach.py';
  const taught = spawnSync('python3', [teach, LESSON_CACHE, values.to], { stdio: 'inherit' });
  process.exit(taught.status ?? 1);
}

if (isMainThread) await main();
else {
  const { next, lessons } = workerData as { next: Int32Array; lessons: number };
  for (let seed = Atomics.add(next, 0, 1); seed < lessons; seed = Atomics.add(next, 0, 1))
    keepLesson(seed);
}
