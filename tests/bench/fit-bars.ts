/**
 * Fits what speaks for the first and the middle beat of a bar and prints it, to be copied into
 * shared/hear/beats/bars.ts:
 *
 *   npx tsx tests/bench/fit-bars.ts [--only steady|free]
 *
 * Logistic regression, with three classes (first, middle, other) where players are steady and two (first,
 * other) where they are free, on the true beats: of steady players in the development set, its old records and the
 * lessons of tests/perform, of free ones in lessons and practice pieces (beats/lesson-rounds.ts) and as many pieces in
 * parts (tests/perform/part-writing.ts), whose bars are not marked by one pattern. Constants are those of classes that
 * are equally common; for free players the first beat's is raised by `eager` more, which finds more bars where heard
 * beats are now and then wrong. First it says how far that carries: in four parts, each counted by what the others
 * teach, how many true beats get their true count. The weights for steady players are from an earlier ear, by which
 * they had fewer measures.
 */
import { parseArgs } from 'node:util';
import { barMeasures, countBars, MEASURES } from '../../shared/hear/beats/bars.ts';
import { type BeatEvidence, gatherBeatEvidence } from '../../shared/hear/beats/evidence.ts';
import { hearOnsets } from '../../shared/hear/onsets/onsets.ts';
import type { Seconds } from '../../shared/math/units.ts';
import { record, type Session } from '../perform/record.ts';
import { asOldRecord, sessionsOf } from '../perform/sets.ts';
import { heardPiece } from './beats/heard-piece.ts';
import { lessonRound, partsPieces } from './beats/lesson-rounds.ts';

const eager = 0.33;
const lightest = 1e-3;
const ROUNDS = 60;

interface Piece {
  readonly steady: boolean;
  readonly part: number;
  readonly beats: readonly Seconds[];
  readonly counts: readonly number[];
  readonly rows: Float64Array;
}

const parts = 4;

function heard(evidence: BeatEvidence, session: Session, part: number): Piece {
  const beats = session.performance.beats.map((beat) => beat.time);
  return {
    steady: session.kind === 'steady',
    part: part % parts,
    beats,
    counts: session.performance.beats.map((beat) => beat.count),
    rows: barMeasures(evidence, beats),
  };
}

function* steadyPieces(): Generator<Piece> {
  for (const session of [...sessionsOf('dev'), ...sessionsOf('lessons')]) {
    if (session.kind !== 'steady') continue;
    const part = (session.seed % 100) + (session.seed >= 3000 ? 2 : 0);
    for (const one of session.seed < 2000 ? [session, asOldRecord(session)] : [session]) {
      const { audio } = record(one);
      yield heard(gatherBeatEvidence(audio, hearOnsets(audio)), session, part);
    }
  }
}

/** Rounds of pieces of the sorts that beats are taught on. */
const LESSON_ROUNDS = 33;

function* freePieces(): Generator<Piece> {
  const sessions = [
    ...Array.from({ length: LESSON_ROUNDS }, (_, i) => lessonRound(2 * i)).flat(),
    ...partsPieces(),
  ];
  for (const [i, session] of sessions.entries()) {
    const { evidence } = heardPiece(session);
    // A bar of one beat says nothing.
    if (session.performance.beats.every((beat) => beat.count === 1)) continue;
    yield heard(evidence, session, i);
  }
}

/** 1 for a first beat, 2 for the middle one of an even bar of more than two, 0 for any other. */
function classes({ counts, steady }: Piece): number[] {
  const metre = Math.max(...counts);
  const middle = steady && metre > 2 && metre % 2 === 0 ? metre / 2 + 1 : 0;
  return counts.map((count) => (count === 1 ? 1 : count === middle ? 2 : 0));
}

/** Weights of the first and of the middle beat, the constant last. */
function taught(pieces: readonly Piece[]): [number[], number[]] {
  const size = MEASURES + 1;
  const rows: { readonly x: Float64Array; readonly is: number }[] = [];
  for (const piece of pieces)
    classes(piece).forEach((is, i) => {
      const x = new Float64Array(size).fill(1);
      x.set(piece.rows.subarray(i * MEASURES, (i + 1) * MEASURES));
      rows.push({ x, is });
    });
  const common = [0, 1, 2].map((one) => rows.filter((row) => row.is === one).length);
  const used = [1, 2].filter((one) => common[one] > 0);
  const weights = [0, 1, 2].map(() => new Float64Array(size));
  const held = lightest * rows.length;
  const odds = weights.map(() => new Float64Array(rows.length));
  const share = (one: number, r: number) => {
    let all = 1;
    for (const other of used) all += Math.exp(odds[other][r]);
    return Math.exp(odds[one][r]) / all;
  };
  // Newton's step for one weight after another: measures hang together.
  for (let round = 0; round < ROUNDS; round++)
    for (const one of used)
      for (let f = 0; f < size; f++) {
        const own = f < MEASURES ? held : 0;
        let slope = -own * weights[one][f];
        let bend = own;
        for (const [r, { x, is }] of rows.entries()) {
          const likely = share(one, r);
          slope += ((is === one ? 1 : 0) - likely) * x[f];
          bend += likely * (1 - likely) * x[f] * x[f];
        }
        const step = slope / bend;
        weights[one][f] += step;
        for (const [r, { x }] of rows.entries()) odds[one][r] += step * x[f];
      }
  for (const one of used) weights[one][MEASURES] -= Math.log(common[one] / common[0]);
  if (!used.includes(2)) weights[1][MEASURES] += eager;
  return [[...weights[1]], [...weights[2]]];
}

/** Share of true beats that get their true count. */
function rightShare(
  { beats, counts, rows, steady }: Piece,
  [first, middle]: [number[], number[]],
): number {
  const odds = (w: readonly number[]) =>
    Float64Array.from(beats, (_, i) => {
      let sum = w[MEASURES];
      for (let m = 0; m < MEASURES; m++) sum += w[m] * rows[i * MEASURES + m];
      return sum;
    });
  const found = countBars(beats, [], { first: odds(first), middle: odds(middle) }, steady ? 1 : 0);
  return found.filter((count, i) => count === counts[i]).length / beats.length;
}

const { only } = parseArgs({ options: { only: { type: 'string', default: '' } } }).values;
for (const steady of [true, false]) {
  if (only && (only === 'steady') !== steady) continue;
  const own = [...(steady ? steadyPieces() : freePieces())];
  let right = 0;
  for (let part = 0; part < parts; part++) {
    const model = taught(own.filter((piece) => piece.part !== part));
    for (const piece of own)
      if (piece.part === part) right += rightShare(piece, model) / own.length;
  }
  console.log(
    `${steady ? 'steady' : 'free'}: ${right.toFixed(3)} of true beats counted right, left out`,
  );
  const [first, middle] = taught(own);
  console.log('  first: ', first.map((w) => w.toFixed(2)).join(', '));
  if (steady) console.log('  middle:', middle.map((w) => w.toFixed(2)).join(', '));
}
