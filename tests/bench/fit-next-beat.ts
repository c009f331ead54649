/**
 * Teaches the network that judges the next beats after a fix, and writes `shared/hear/beats/next-weights.ts`.
 *
 *   npx tsx tests/bench/fit-next-beat.ts [--further]
 *
 * It records lessons of tests/perform and practice pieces (beats/lesson-rounds.ts) that none of the other networks was
 * taught on, none of them of the development or check sets. Each is learned from as it was heard, and once or
 * twice as it might have been heard at another tempo (beats/varied-piece.ts). The scripted person corrects each, as
 * the beats stand, with and without the network that is there already, since that leads to other fixes; and by another
 * habit of counting (beats/counted.ts). After every fix all ways to go on that are not out of the
 * question are kept (beats/path-lattice.ts). The network's judgement, added to what each step is worth already,
 * is taught by beats/teach_paths.py so that the path stays right as far as can be. The constants stay as
 * they are: without the network everything is as before. Needs fluidsynth, a python3 with numpy and a C compiler;
 * about 35 minutes on one core, a third of it for the recordings. The network that was there before, which led to a part
 * of the lessons, was taught by the same recipe on 9100 lattices of the same pieces, not varied, none of its own leading.
 * The weights that are there were made by these steps one after the other, with the lattices in another order, before
 * fit-silent-beats.ts placed silent beats and before holds were known; then they were taught further on the lattices that they
 * lead to themselves, heard as they were and at three other tempi; then, with ensembles, when memory of the beats
 * between onsets was added; and then by what `--further` does now, with pieces in parts, half of which is taken. (The
 * networks of onsets and intervals had then been taught on 180 of the 345 pieces in parts, and what they had become
 * was taken whole.) Ten minutes each.
 */
import { spawnSync } from 'node:child_process';
import { closeSync, openSync, readFileSync, writeFileSync, writeSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { fixBeats, heardAfter, startBeats } from '../../shared/hear/beats/fixes.ts';
import { describeNext, MOST_NEXT, NEXT_INPUTS } from '../../shared/hear/beats/next.ts';
import { NEXT } from '../../shared/hear/beats/next-weights.ts';
import type { Seconds } from '../../shared/math/units.ts';
import { nextFix } from '../metrics/correcting-person.ts';
import { countedBeats, countings } from './beats/counted.ts';
import { BEATS_CACHE, type HeardPiece, heardPiece } from './beats/heard-piece.ts';
import { ensembleRound, lessonRound, partsRound, ROUNDS } from './beats/lesson-rounds.ts';
import { between, packed, type Taught, unpacked } from './beats/packed.ts';
import { latticeOf } from './beats/path-lattice.ts';
import { variedPiece } from './beats/varied-piece.ts';

const { further } = parseArgs({ options: { further: { type: 'boolean', default: false } } }).values;

/** So many rounds are heard varied twice, the others once. */
const TWICE = 24;
/** How each is when the network is taught further, and how much of that is taken. */
const FURTHER = [0, 8];
const NEW = 0.5;

const path = (end: string) => join(BEATS_CACHE, `next.${end}`);
const rows = openSync(path('inputs'), 'w');
const lattices = openSync(path('lattices'), 'w');

/** Corrects a piece, with so much weight on the network that is there, and keeps what could follow each fix. */
function keepLattices(
  { evidence }: HeardPiece,
  truth: readonly Seconds[],
  apart: boolean,
  nextWeight: number,
) {
  const start = startBeats(evidence);
  // Steady players are not judged so.
  if (start.tuning.nextWeight < 0.5) return;
  const untaught = { ...start.tuning, nextWeight: 0 };
  let state = { ...start, tuning: { ...start.tuning, nextWeight } };
  let count = 0;
  for (let fix = nextFix(truth, state.times); fix; fix = nextFix(truth, state.times)) {
    if (count++ > truth.length) break;
    state = fixBeats(evidence, state, fix);
    const { choices, tempo } = heardAfter(evidence, { ...state, tuning: untaught });
    if (Array.isArray(choices) || !choices.known) continue;
    const lattice = latticeOf(choices, tempo, truth);
    if (!lattice) continue;
    const { steps, log, ends } = lattice;
    const describe = describeNext(choices.known);
    const inputs = new Float32Array(steps.length * NEXT_INPUTS);
    for (const [s, { interval }] of steps.entries())
      describe(interval, inputs.subarray(s * NEXT_INPUTS, (s + 1) * NEXT_INPUTS));
    writeSync(rows, Buffer.from(inputs.buffer));
    const numbers = Float32Array.from([
      ...[steps.length, ends.length, log, tempo.freedom, tempo.leap, apart ? 1 : 0],
      ...ends,
      ...steps.flatMap((step) => [step.from, step.to, step.worth, step.log, step.wrong]),
    ]);
    writeSync(lattices, Buffer.from(numbers.buffer));
  }
}

for (let round = 0; round < ROUNDS; round++) {
  const variations = further ? FURTHER : round < TWICE ? [0, 1, 2] : [0, 3];
  const usual = further && round % 2 === 1 ? [] : [...lessonRound(round), ...ensembleRound(round)];
  const sessions = further ? [...usual, ...partsRound(round)] : usual;
  for (const [i, session] of sessions.entries()) {
    const heard = heardPiece(session);
    const number = round * 15 + i;
    const apart = number % 8 === 7;
    const other = countings[1 + ((round * 3 + i) % (countings.length - 1))];
    for (const variation of variations) {
      const piece = variation === 0 ? heard : variedPiece(heard, variation * 100_003 + number);
      keepLattices(piece, piece.beats, apart, 1);
      if (!further) keepLattices(piece, piece.beats, apart, 0);
      if (!further || variation > 0)
        keepLattices(piece, countedBeats(piece, other), apart, further ? 1 : (round + i) % 2);
    }
  }
  console.log(`round ${round} of ${ROUNDS}`);
}
closeSync(rows);
closeSync(lattices);
writeFileSync(
  path('json'),
  JSON.stringify({
    inputs: NEXT_INPUTS,
    most: MOST_NEXT,
    further,
    ...(further
      ? { hidden: [128], nets: 1, epochs: 3, decay: 0, drop: 0.15, rate: 6e-4 }
      : { hidden: [64], nets: 2, epochs: 6, decay: 0.3, drop: 0.3 }),
  }),
);
writeFileSync(path('start.json'), JSON.stringify(unpacked(NEXT)));
const script = fileURLToPath(new URL('beats/teach_paths.py', import.meta.url));
const done = spawnSync('python3', [script, BEATS_CACHE, 'next'], { stdio: 'inherit' });
if (done.status !== 0) throw new Error(`teach_paths.py ended with ${done.status}`);
const taught: Taught = JSON.parse(readFileSync(path('net.json'), 'utf8'));
writeFileSync(
  fileURLToPath(new URL('../../shared/hear/beats/next-weights.ts', import.meta.url)),
  `// Written by tests/bench/fit-next-beat.ts; not for editing.
import type { PackedPerceptron } from '../perceptron.ts';

/** Whether an interval after a fix is the next beats, by all that is known (next.ts). */
export const NEXT: PackedPerceptron = ${packed(further ? between(unpacked(NEXT), taught, NEW) : taught)};
`,
);
