/**
 * Teaches the network that judges the next beats after a fix, and writes `shared/hear/beat-next-weights.ts`.
 *
 *   npx tsx tests/bench/fit-next-beat.ts
 *
 * It records lessons of tests/perform and practice pieces (beats/practice.ts) that none of the other networks was
 * taught on, none of them of the development or check sets. The scripted person corrects each, as the beats stand
 * and by another habit of counting (beats/counted.ts); after every fix all ways to go on that are not out of the
 * question are kept (beats/path-lattice.ts). The network's judgement, added to what each step is worth already,
 * is taught by beats/teach_paths.py so that the path stays right as far as can be. The constants stay as
 * they are: without the network everything is as before. Needs fluidsynth and a python3 with numpy;
 * about 40 minutes on one core, most of it for the recordings.
 */
import { spawnSync } from 'node:child_process';
import { closeSync, openSync, readFileSync, writeFileSync, writeSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { fixBeats, heardAfter, startBeats } from '../../shared/hear/beat-fixes.ts';
import { describeNext, MOST_NEXT, NEXT_INPUTS } from '../../shared/hear/beat-next.ts';
import type { Seconds } from '../../shared/math/units.ts';
import { nextFix } from '../metrics/correcting-person.ts';
import type { Session } from '../perform/record.ts';
import { lesson } from '../perform/sets.ts';
import { countedBeats, countings } from './beats/counted.ts';
import { BEATS_CACHE, type HeardPiece, heardPiece } from './beats/heard-piece.ts';
import { packed } from './beats/packed.ts';
import { latticeOf } from './beats/path-lattice.ts';
import { practicePiece } from './beats/practice.ts';

/** The first of the pieces, and how many rounds of ten there are. */
const FIRST = 401;
const ROUNDS = 66;

function* sessions(): Generator<Session> {
  for (let round = 0; round < ROUNDS; round++) {
    const one = FIRST + round;
    const [two, three] = [FIRST + 2 * round, FIRST + 3 * round];
    for (const number of [three, three + 1, three + 2]) yield practicePiece('piano', number);
    for (const number of [two, two + 1]) yield lesson('piano', number);
    yield practicePiece('trio', one);
    yield lesson('trio', one);
    for (const number of [two, two + 1]) yield practicePiece('extreme', number);
    yield lesson('extreme', one);
  }
}

const path = (end: string) => join(BEATS_CACHE, `next.${end}`);
const rows = openSync(path('inputs'), 'w');
const lattices = openSync(path('lattices'), 'w');

/** Corrects a piece and keeps what could follow each fix. */
function keepLattices({ name, evidence }: HeardPiece, truth: readonly Seconds[], half: number) {
  const start = startBeats(evidence);
  let state = { ...start, tuning: { ...start.tuning, nextWeight: 0 } };
  let count = 0;
  for (let fix = nextFix(truth, state.times); fix; fix = nextFix(truth, state.times)) {
    if (count++ > truth.length) break;
    state = fixBeats(evidence, state, fix);
    const { choices, tempo } = heardAfter(evidence, state);
    if (Array.isArray(choices) || !choices.known) continue;
    const lattice = latticeOf(choices, tempo, truth);
    if (!lattice) continue;
    const { steps, log, ends } = lattice;
    const describe = describeNext(choices.known);
    const inputs = new Float32Array(steps.length * NEXT_INPUTS);
    for (const [s, { interval }] of steps.entries())
      describe(interval, inputs.subarray(s * NEXT_INPUTS, (s + 1) * NEXT_INPUTS));
    writeSync(rows, Buffer.from(inputs.buffer));
    const all = {
      name,
      half,
      from: steps.map((step) => step.from),
      to: steps.map((step) => step.to),
      worth: steps.map((step) => Number(step.worth.toFixed(4))),
      log: steps.map((step) => Number(step.log.toFixed(4))),
      wrong: steps.map((step) => step.wrong),
      before: log,
      ends,
      freedom: tempo.freedom,
      leap: tempo.leap,
    };
    writeSync(lattices, `${JSON.stringify(all)}\n`);
  }
}

let at = 0;
for (const session of sessions()) {
  const piece = heardPiece(session);
  const half = at % 8 === 7 ? 1 : 0;
  keepLattices(piece, countedBeats(piece, 'mean'), half);
  if (at % 2 === 1)
    keepLattices(
      piece,
      countedBeats(piece, countings[1 + ((at >> 1) % (countings.length - 1))]),
      half,
    );
  if (at++ % 20 === 0) console.log(piece.name);
}
closeSync(rows);
closeSync(lattices);
writeFileSync(
  path('json'),
  JSON.stringify({
    inputs: NEXT_INPUTS,
    hidden: [32],
    epochs: 8,
    decay: 0.3,
    drop: 0.3,
    most: MOST_NEXT,
  }),
);
const script = fileURLToPath(new URL('beats/teach_paths.py', import.meta.url));
const done = spawnSync('python3', [script, BEATS_CACHE, 'next'], { stdio: 'inherit' });
if (done.status !== 0) throw new Error(`teach_paths.py ended with ${done.status}`);
writeFileSync(
  fileURLToPath(new URL('../../shared/hear/beat-next-weights.ts', import.meta.url)),
  `// Written by tests/bench/fit-next-beat.ts; not for editing.
import type { PackedPerceptron } from './perceptron.ts';

/** Whether an interval after a fix is the next beats, by all that is known (beat-next.ts). */
export const NEXT: PackedPerceptron = ${packed(JSON.parse(readFileSync(path('net.json'), 'utf8')))};
`,
);
