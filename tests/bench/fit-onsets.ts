/**
 * Teaches the ear what an attack looks like and writes `shared/hear/onsets/weights.ts`.
 *
 *   npx tsx tests/bench/fit-onsets.ts [--lessons 520] [--first 0] [--workers 2] [--epochs 25]
 *                                     [--performances] [--own] [--again]
 *
 * First it plays lessons (seeded, so always the same ones) and keeps what the ear's views see of them;
 * `--performances` adds the development set of tests/perform; `--own` leaves out the lessons that need a
 * bank of sounds. Then `onsets/teach.py` fits the network,
 * from nothing or, with `--again`, from the weights that are there. Needs fluidsynth, FluidR3_GM and
 * MuseScore_General (both MIT; LESSON_FONT and LESSON_FONT_2 say where they lie elsewhere) and a python3
 * with numpy. A few hours on two cores.
 *
 * The weights that are there were taught by an earlier state of this recipe (commit c1f1d89: 520 lessons,
 * 25 epochs with PyTorch on a graphics card, seed 0), whose lessons had fewer electric keyboards and bare
 * tones; lessons have been added since for the faults that were found, and not yet been taught.
 */
import { spawn, spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { ANALYSIS_RATE } from '../../shared/hear/analysis-rate.ts';
import { hearingSignal } from '../../shared/hear/hearing-signal.ts';
import { CELL, cellOffset, cellsOf, VIEWS, viewLevels } from '../../shared/hear/onsets/features.ts';
import { PARTS } from '../../shared/hear/onsets/net.ts';
import type { Audio } from '../../shared/take/audio.ts';
import { readWav } from '../../shared/take/wav-read.ts';
import { LESSON_CACHE, needsBank, renderLesson } from './onsets/lesson-audio.ts';
import { makeLesson } from './onsets/lesson-music.ts';

const LESSON_SECONDS = 40;
const FONTS = [
  process.env.LESSON_FONT ?? '/usr/share/sounds/sf2/FluidR3_GM.sf2',
  process.env.LESSON_FONT_2 ?? '/usr/share/sounds/sf2/MuseScore_General_Full.sf2',
].filter((path) => existsSync(path));
/** Levels are kept as whole numbers of this many to a doubling. */
const STEPS = 2000;

/** Writes what each view sees of a recording, frame after frame, and beside it the truth. */
function keep(audio: Audio, attacks: readonly number[], name: string): void {
  const sound = hearingSignal(audio);
  const cells = cellsOf(sound.whole);
  const parts = viewLevels(sound).levels.map((levels) => {
    const inside = levels.data.subarray(cellOffset(levels, 0), cellOffset(levels, cells));
    const whole = Int16Array.from(inside, (x) => Math.round(Math.min(16, x) * STEPS));
    return Buffer.from(whole.buffer);
  });
  const path = join(LESSON_CACHE, name);
  writeFileSync(`${path}.levels`, Buffer.concat(parts));
  writeFileSync(`${path}.lesson`, JSON.stringify({ cells, attacks }));
}

function keepLesson(seed: number): void {
  const lesson = makeLesson(seed, LESSON_SECONDS);
  const font = FONTS[seed % 3 === 2 ? FONTS.length - 1 : 0];
  renderLesson(lesson, font).forEach(({ channels, rate, attacks }, i) => {
    const times = attacks.map((attack) => attack.time);
    const name = `${String(seed).padStart(4, '0')}-${i === 0 ? 'clean' : 'old'}`;
    keep({ sampleRate: rate, channels }, times, name);
  });
}

/** The development set, as `npm run bench hear` has left it. */
function keepPerformances(): void {
  const folder = 'node_modules/.cache/unclicked-perform/dev';
  for (const file of readdirSync(folder)) {
    if (!file.endsWith('.json')) continue;
    const name = file.replace('.json', '');
    const truth = JSON.parse(readFileSync(join(folder, file), 'utf8')) as { onsets: number[] };
    const { audio } = readWav(readFileSync(join(folder, `${name}.wav`)), name);
    keep(audio, truth.onsets, name);
  }
}

const { values } = parseArgs({
  options: {
    lessons: { type: 'string', default: '520' },
    first: { type: 'string', default: '0' },
    workers: { type: 'string', default: '2' },
    part: { type: 'string' },
    epochs: { type: 'string', default: '25' },
    hidden: { type: 'string', default: '48,20' },
    performances: { type: 'boolean', default: false },
    own: { type: 'boolean', default: false },
    again: { type: 'boolean', default: false },
    to: { type: 'string', default: 'shared/hear/onsets/weights.ts' },
  },
});
const first = Number(values.first);
const workers = Number(values.workers);

/** One process's share of the lessons. */
function play(part: number): void {
  for (let seed = first + part; seed < first + Number(values.lessons); seed += workers)
    if (!values.own || !needsBank(seed)) keepLesson(seed);
}

async function teach(): Promise<void> {
  mkdirSync(LESSON_CACHE, { recursive: true });
  if (values.performances) keepPerformances();
  const self = [...process.execArgv, ...process.argv.slice(1)];
  const players = Array.from({ length: workers }, (_, part) => {
    const player = spawn(process.execPath, [...self, '--part', String(part)], { stdio: 'inherit' });
    return new Promise<void>((resolve, reject) =>
      player.once('exit', (code) =>
        code === 0 ? resolve() : reject(new Error('A player failed.')),
      ),
    );
  });
  await Promise.all(players);
  const layout = {
    steps: STEPS,
    cellSeconds: CELL / ANALYSIS_RATE,
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
  const options = ['tests/bench/onsets/teach.py', LESSON_CACHE, values.to];
  if (values.again) options.push('again');
  process.exit(spawnSync('python3', options, { stdio: 'inherit' }).status ?? 1);
}

if (values.part === undefined) await teach();
else play(Number(values.part));
