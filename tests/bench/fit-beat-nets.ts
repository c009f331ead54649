/**
 * Teaches the networks that beats are inferred with, and writes `shared/hear/beats/weights.ts`.
 *
 *   npx tsx tests/bench/fit-beat-nets.ts [--further]
 *
 * First it records lessons of tests/perform and practice pieces (beats/practice.ts), 446 in all and none of
 * the development or check sets (nor real timing that the check set has), and keeps what is heard in them.
 * Then (1) FIRST_SIGHT: whether an onset lies within 40 ms of a true beat, from what is around it; (2) SALIENCE:
 * the same, told what the first thinks of the onsets an interval away; (3) RHYTHM:
 * whether an interval from one onset to another is one beat, or two or three with silent ones between, from
 * the rhythm in it and beside it. Each builds on the one before, which must not have been taught on the same
 * pieces: each half of the pieces is judged by a network taught on the other. Fit the constants again
 * afterwards (fit-beats.ts). About 40 minutes on one core, most of it for the recordings; needs fluidsynth
 * and a python3 with numpy. Of the pieces behind the weights that are there 286 were heard before the close
 * look at attacks was taught again.
 *
 * With `--further` those networks go on learning, from 345 pieces in parts (tests/perform/part-writing.ts) and 417 of the
 * sorts they know, and what is written lies between what they were and what they become. So the weights that are
 * there were made. Two minutes, and ten for the recordings.
 */
import { spawnSync } from 'node:child_process';
import { closeSync, openSync, readFileSync, writeFileSync, writeSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { CONTEXT, contextsOf } from '../../shared/hear/beats/context.ts';
import { REACH } from '../../shared/hear/beats/path.ts';
import { describeInterval, type Interval, RHYTHM_INPUTS } from '../../shared/hear/beats/rhythm.ts';
import { SUPPORTED, supportsOf } from '../../shared/hear/beats/support.ts';
import { FIRST_SIGHT, RHYTHM, SALIENCE } from '../../shared/hear/beats/weights.ts';
import type { PackedPerceptron } from '../../shared/hear/perceptron.ts';
import { makeRandom } from '../../shared/math/random.ts';
import type { Seconds } from '../../shared/math/units.ts';
import type { Session } from '../perform/record.ts';
import { lesson } from '../perform/sets.ts';
import type { Kind } from '../perform/truth.ts';
import { BEATS_CACHE, type HeardPiece, heardPiece } from './beats/heard-piece.ts';
import { ensembleRound, lessonRound, partsPieces, ROUNDS } from './beats/lesson-rounds.ts';
import { between, packed, type Taught, unpacked } from './beats/packed.ts';
import { type PracticeKind, practicePiece } from './beats/practice.ts';

const LESSONS: Record<Kind, number> = {
  piano: 90,
  trio: 44,
  extreme: 48,
  steady: 14,
  ensemble: 30,
};
const PRACTICE: Record<PracticeKind, number> = { piano: 100, trio: 50, extreme: 56, steady: 28 };
/** An onset this near to a beat is on it. */
const ON_BEAT: Seconds = 0.04;
/** Of the many intervals that are no beats these shares are kept: those of one beat, and of several. */
const KEPT_SINGLE = 0.25;
const KEPT_SEVERAL = 0.06;
/** Steady playing has many onsets and little variety. */
const KEPT_STEADY = 0.3;
const SHORTEST: Seconds = 0.18;
const LONGEST: Seconds = 2.4;

const random = makeRandom(9);
const { further } = parseArgs({ options: { further: { type: 'boolean', default: false } } }).values;
/** How networks that are there are taught further, how much of that is taken, and on how many steady takes. */
const FURTHER = { further: true, epochs: 5, rate: 5e-4 };
const NEW = 0.6;
const STEADY = 21;

/** Rows for a network, written as they come. */
class Rows {
  private readonly file: number;
  private readonly wanted: number[] = [];
  private readonly worth: number[] = [];
  private readonly half: number[] = [];

  constructor(
    private readonly name: string,
    private readonly layout: { readonly inputs: number } & Record<string, unknown>,
    private readonly start: PackedPerceptron,
  ) {
    this.file = openSync(join(BEATS_CACHE, `${name}.inputs`), 'w');
  }

  add(inputs: Float32Array, wanted: boolean, worth: number, half: number): void {
    writeSync(this.file, Buffer.from(inputs.slice().buffer));
    this.wanted.push(wanted ? 1 : 0);
    this.worth.push(worth);
    this.half.push(half);
  }

  /** Has the network taught and returns it packed, as a literal. */
  teach(): string {
    closeSync(this.file);
    const path = (end: string) => join(BEATS_CACHE, `${this.name}.${end}`);
    writeFileSync(path('wanted'), Uint8Array.from(this.wanted));
    writeFileSync(path('worth'), Buffer.from(Float32Array.from(this.worth).buffer));
    writeFileSync(path('half'), Uint8Array.from(this.half));
    writeFileSync(path('json'), JSON.stringify({ ...this.layout, ...(further && FURTHER) }));
    writeFileSync(path('start.json'), JSON.stringify(unpacked(this.start)));
    const script = fileURLToPath(new URL('beats/teach.py', import.meta.url));
    const done = spawnSync('python3', [script, BEATS_CACHE, this.name], { stdio: 'inherit' });
    if (done.status !== 0) throw new Error(`teach.py ended with ${done.status}`);
    const taught: Taught = JSON.parse(readFileSync(path('net.json'), 'utf8'));
    return packed(further ? between(unpacked(this.start), taught, NEW) : taught);
  }
}

function nearestBeat(beats: readonly Seconds[], time: Seconds): number {
  let near = -1;
  for (const [b, beat] of beats.entries()) {
    const apart = Math.abs(beat - time);
    if (apart < ON_BEAT && (near < 0 || apart < Math.abs(beats[near] - time))) near = b;
  }
  return near;
}

/** The intervals of a piece that a network can learn from, with whether each is a beat or several. */
function* intervalsOf({ beats, evidence }: HeardPiece): Generator<[Interval, boolean]> {
  const { times } = evidence;
  const onBeat = Array.from(times, (time) => nearestBeat(beats, time));
  const sounding = new Set(onBeat);
  for (let first = 0; first < times.length; first++)
    for (let last = first + 1; last < times.length; last++) {
      const [start, end] = [times[first], times[last]];
      if (end - start >= REACH) break;
      for (let parts = 1; parts <= 3; parts++) {
        const length = (end - start) / parts;
        if (length < SHORTEST) break;
        if (length > LONGEST) continue;
        const from = onBeat[first];
        const is = from >= 0 && onBeat[last] === from + parts;
        // Over a beat that sounds no path should pass, yet the interval is not wrong.
        const over = Array.from({ length: parts - 1 }, (_, q) => sounding.has(from + 1 + q));
        if (is && over.includes(true)) continue;
        yield [{ first, last, start, end, parts }, is];
      }
    }
}

const kinds = Object.keys(LESSONS) as Kind[];
const atFirst = (): Session[] => [
  ...kinds.flatMap((kind) => Array.from({ length: LESSONS[kind] }, (_, i) => lesson(kind, i + 1))),
  ...(Object.keys(PRACTICE) as PracticeKind[]).flatMap((kind) =>
    Array.from({ length: PRACTICE[kind] }, (_, i) => i + 1)
      // The check set has the even excerpts of real timing.
      .filter((number) => kind !== 'steady' || number % 2 === 1)
      .map((number) => practicePiece(kind, number)),
  ),
];
/** Pieces in parts, and of the sorts known before those that fit-next-beat.ts leaves out when it teaches further. */
const inParts = (): Session[] => [
  ...Array.from({ length: ROUNDS / 2 }, (_, i) => 2 * i + 1).flatMap((round) => [
    ...lessonRound(round),
    ...ensembleRound(round),
  ]),
  ...Array.from({ length: STEADY }, (_, i) => practicePiece('steady', 601 + 2 * i)),
  ...partsPieces(),
];
const pieces = (further ? inParts() : atFirst()).map((session) => {
  const piece = heardPiece(session);
  console.log(`${piece.name}: ${piece.evidence.times.length} onsets`);
  return piece;
});

/** How like beats the onsets of all pieces are, each half of the pieces judged by the other's network. */
function crossed(name: string): Float32Array {
  return new Float32Array(
    new Uint8Array(readFileSync(join(BEATS_CACHE, `${name}.crossed`))).buffer,
  );
}

/** Has a network taught about onsets, from a row of numbers each. */
function teachOnsets(
  name: string,
  layout: { readonly inputs: number } & Record<string, unknown>,
  start: PackedPerceptron,
  rowsOf: (piece: HeardPiece, from: number) => Float32Array,
): string {
  const { inputs } = layout;
  const onsets = new Rows(name, { bias: 0, crossed: true, batch: 256, ...layout }, start);
  let from = 0;
  for (const [p, piece] of pieces.entries()) {
    const rows = rowsOf(piece, from);
    for (const [i, time] of piece.evidence.times.entries()) {
      const own = rows.subarray(i * inputs, (i + 1) * inputs);
      onsets.add(own, nearestBeat(piece.beats, time) >= 0, 1, p % 2);
    }
    from += piece.evidence.times.length;
  }
  return onsets.teach();
}

const firstSight = teachOnsets(
  'first-sight',
  { inputs: CONTEXT, hidden: [32], epochs: 16, decay: 0.2, drop: 0.2 },
  FIRST_SIGHT,
  (piece) => contextsOf(piece.evidence),
);
const sighted = crossed('first-sight');
const salience = teachOnsets(
  'salience',
  { inputs: SUPPORTED, hidden: [48, 24], epochs: 16, decay: 0.2, drop: 0.3 },
  SALIENCE,
  ({ evidence }, from) => {
    const odds = sighted.subarray(from, from + evidence.times.length);
    return supportsOf(evidence.times, contextsOf(evidence), odds);
  },
);
const judged = crossed('salience');

const intervals = new Rows(
  'rhythm',
  {
    crossed: false,
    batch: 512,
    inputs: RHYTHM_INPUTS,
    hidden: [24],
    epochs: 8,
    decay: 0.05,
    drop: 0.1,
    bias: -3,
  },
  RHYTHM,
);
const inputs = new Float32Array(RHYTHM_INPUTS);
let from = 0;
for (const [p, piece] of pieces.entries()) {
  const n = piece.evidence.times.length;
  const odds = Float64Array.from(judged.subarray(from, from + n), (x) =>
    Math.max(-4, Math.min(4, x)),
  );
  from += n;
  for (const [interval, is] of intervalsOf(piece)) {
    const usual = is ? 1 : interval.parts === 1 ? KEPT_SINGLE : KEPT_SEVERAL;
    const kept = usual * (piece.kind === 'steady' ? KEPT_STEADY : 1);
    if (random() >= kept) continue;
    describeInterval(piece.evidence, odds, interval, inputs);
    intervals.add(inputs, is, 1 / kept, p % 2);
  }
}
const rhythm = intervals.teach();

const target = fileURLToPath(new URL('../../shared/hear/beats/weights.ts', import.meta.url));
writeFileSync(
  target,
  `// Written by tests/bench/fit-beat-nets.ts; not for editing.
import type { PackedPerceptron } from '../perceptron.ts';

/** Whether an onset carries a beat, from its context (context.ts). */
export const FIRST_SIGHT: PackedPerceptron = ${firstSight};
/** The same from its context and from how like beats others are (support.ts). */
export const SALIENCE: PackedPerceptron = ${salience};
/** Whether an interval is a beat or several, from its rhythm (rhythm.ts). */
export const RHYTHM: PackedPerceptron = ${rhythm};
`,
);
