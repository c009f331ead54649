/**
 * Teaches the ear when exactly an attack begins, and writes `shared/hear/onsets/timing-weights.ts`.
 *
 *   npx tsx tests/bench/fit-timing.ts [--lessons 295] [--first 1000]
 *
 * First it plays lessons that the ear has not learned to hear from (`fit-onsets.ts` plays other numbers),
 * hears them, and keeps a close look at whatever may be an attack, once where the ear has it and once up to
 * 8 ms beside; the same of tones that shake; then four times the development set of tests/perform. Then `onsets/teach-timing.py` fits the
 * network. Needs what `fit-onsets.ts` needs. Under an hour on one core; fit the beats again afterwards.
 */
import { spawnSync } from 'node:child_process';
import {
  closeSync,
  existsSync,
  mkdirSync,
  openSync,
  readdirSync,
  readFileSync,
  writeFileSync,
  writeSync,
} from 'node:fs';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { hearingSignal } from '../../shared/hear/hearing-signal.ts';
import { CLOSE_FEATURES, closeFeatures, LIKELIHOODS } from '../../shared/hear/onsets/close-look.ts';
import { taughtEar } from '../../shared/hear/onsets/ear.ts';
import { cellsOf, viewLevels } from '../../shared/hear/onsets/features.ts';
import { likelihoods } from '../../shared/hear/onsets/net.ts';
import { pickAttacks } from '../../shared/hear/onsets/picking.ts';
import { risingOnly } from '../../shared/hear/onsets/strength.ts';
import { makeRandom } from '../../shared/math/random.ts';
import type { Audio } from '../../shared/take/audio.ts';
import { readWav } from '../../shared/take/wav-read.ts';
import { matchWithin } from '../metrics/matching.ts';
import { folderOf } from '../perform/make.ts';
import { LESSON_CACHE, renderLesson } from './onsets/lesson-audio.ts';
import { makeLesson } from './onsets/lesson-music.ts';

const LESSON_SECONDS = 40;
const FONTS = [
  process.env.LESSON_FONT ?? '/usr/share/sounds/sf2/FluidR3_GM.sf2',
  process.env.LESSON_FONT_2 ?? '/usr/share/sounds/sf2/MuseScore_General_Full.sf2',
].filter((path) => existsSync(path));
/** Levels are kept as whole numbers of this many to a doubling. */
const STEPS = 2000;
/** Attacks nearer than this are one. */
const MERGE = 0.03;
/** An attack farther from the truth than this is none. */
const REACH = 0.04;
/** Milliseconds that an attack may lie before the moment looked at, and after it. */
const FARTHEST = 40;
const BESIDE = 0.008;
/** From which likelihood on a moment is learned from: lower than the ear's own, so that more can be refused. */
const LEAST_LIKELY = 0.1;
/** Lessons of tones that shake as voices and strings do. */
const SUNG = 60;
/** How often the development set counts beside the lessons. */
const PERFORMANCES = 4;

const random = makeRandom(5);
const offsets: (number | null)[] = [];

/** Keeps close looks at what may be an attack, `beside` of them a little beside it. */
function keep(audio: Audio, attacks: readonly number[], beside: boolean, file: number): void {
  const sound = hearingSignal(audio);
  const { levels, floor } = viewLevels(sound);
  const curve = likelihoods(levels, cellsOf(sound.whole), taughtEar());
  const moments = risingOnly(pickAttacks(curve, LEAST_LIKELY), levels[0]);
  const times = moments.map((moment) => moment.time);
  const truth: number[] = [];
  for (const time of [...attacks].sort((a, b) => a - b))
    if (truth.length === 0 || time - truth[truth.length - 1] >= MERGE) truth.push(time);
  const answers = new Map(matchWithin(truth, times, REACH).map(([i, k]) => [k, truth[i]]));
  const looks = beside
    ? [times, times.map((time) => Math.max(0, time + (2 * random() - 1) * BESIDE))]
    : [times];
  for (const look of looks) {
    const features = closeFeatures(look, sound, floor, curve);
    const whole = Int16Array.from(features, (x) => Math.round(Math.min(16, x) * STEPS));
    writeSync(file, new Uint8Array(whole.buffer));
    look.forEach((time, k) => {
      const answer = answers.get(k);
      offsets.push(answer === undefined ? null : Math.round((answer - time) * 1e6) / 1e3);
    });
  }
}

function keepLesson(seed: number, font: string, sung: boolean): void {
  for (const played of renderLesson(makeLesson(seed, LESSON_SECONDS), font, sung)) {
    const times = played.attacks.map((attack) => attack.time);
    keep({ sampleRate: played.rate, channels: played.channels }, times, true, file);
  }
}

const { values } = parseArgs({
  options: {
    lessons: { type: 'string', default: '295' },
    first: { type: 'string', default: '1000' },
    to: { type: 'string', default: 'shared/hear/onsets/timing-weights.ts' },
  },
});
mkdirSync(LESSON_CACHE, { recursive: true });
const file = openSync(join(LESSON_CACHE, 'timing.levels'), 'w');
const first = Number(values.first);
for (let seed = first; seed < first + Number(values.lessons); seed++) {
  const font = FONTS[seed % 3 === 2 ? FONTS.length - 1 : 0];
  keepLesson(seed, font, false);
}
for (let seed = first + 1000; seed < first + 1000 + SUNG; seed++) keepLesson(seed, FONTS[0], true);
for (let round = 0; round < PERFORMANCES; round++)
  for (const name of readdirSync(folderOf('dev'))
    .filter((name) => name.endsWith('.json'))
    .sort()) {
    const path = join(folderOf('dev'), name);
    const truth = JSON.parse(readFileSync(path, 'utf8')) as { onsets: number[] };
    const { audio } = readWav(readFileSync(path.replace(/json$/, 'wav')), name);
    keep(audio, truth.onsets, false, file);
  }
closeSync(file);
writeFileSync(
  join(LESSON_CACHE, 'timing.json'),
  JSON.stringify({
    features: CLOSE_FEATURES,
    likely: LIKELIHOODS,
    steps: STEPS,
    first: -FARTHEST,
    count: 2 * FARTHEST + 1,
    offsets,
  }),
);
const options = ['tests/bench/onsets/teach-timing.py', LESSON_CACHE, values.to];
process.exit(spawnSync('python3', options, { stdio: 'inherit' }).status ?? 1);
