/**
 * Fits what speaks for the first and the middle beat of a bar and prints it, to be copied into
 * shared/hear/bars.ts:
 *
 *   npx tsx tests/bench/fit-bars.ts [--only steady|free]
 *
 * Logistic regression, with three classes (first, middle, other) where players are steady and two (first,
 * other) where they are free, on the true beats of the development set, its old records and the lessons of
 * tests/perform. Constants are those of classes that are equally common; for free players the first beat's is
 * raised by `eager` more, which finds more bars where heard beats are now and then wrong. First it says how far
 * that carries: in four parts, each counted by what the others teach, how many true beats get their true count.
 * The weights for free players that ship are from an earlier ear and differ by at most 0.25.
 */
import { parseArgs } from 'node:util';
import { barMeasures, countBars, MEASURES } from '../../shared/hear/bars.ts';
import { gatherBeatEvidence } from '../../shared/hear/beat-evidence.ts';
import { hearOnsets } from '../../shared/hear/onsets.ts';
import type { Seconds } from '../../shared/math/units.ts';
import { record, type Session } from '../perform/record.ts';
import { asOldRecord, sessionsOf } from '../perform/sets.ts';

const eager = 0.33;
const lightest = 1e-3;

interface Piece {
  readonly steady: boolean;
  readonly part: number;
  readonly beats: readonly Seconds[];
  readonly counts: readonly number[];
  readonly rows: Float64Array;
}

const parts = 4;

function heardPiece(session: Session): Piece {
  const { audio, truth } = record(session);
  const evidence = gatherBeatEvidence(audio, hearOnsets(audio));
  const beats = truth.beats.map((beat) => beat.time);
  const number = session.seed % 100;
  return {
    steady: session.kind === 'steady',
    part: (number + (session.seed >= 3000 ? 2 : 0)) % parts,
    beats,
    counts: truth.beats.map((beat) => beat.count),
    rows: barMeasures(evidence, beats),
  };
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
  const dot = (w: Float64Array, x: Float64Array) => w.reduce((sum, v, f) => sum + v * x[f], 0);
  for (let round = 0; round < 200; round++) {
    const slope = weights.map((w) => w.map((v, f) => (f < MEASURES ? -held * v : 0)));
    const bend = weights.map((w) => w.map(() => held));
    for (const { x, is } of rows) {
      const odds = weights.map((w, one) => (one === 0 || used.includes(one) ? dot(w, x) : -1e9));
      const all = odds.reduce((sum, one) => sum + Math.exp(one), 0);
      for (const one of used) {
        const likely = Math.exp(odds[one]) / all;
        for (let f = 0; f < size; f++) {
          slope[one][f] += ((is === one ? 1 : 0) - likely) * x[f];
          bend[one][f] += likely * (1 - likely) * x[f] * x[f];
        }
      }
    }
    for (const one of used)
      for (let f = 0; f < size; f++) weights[one][f] += (0.5 * slope[one][f]) / bend[one][f];
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

const { values } = parseArgs({ options: { only: { type: 'string', default: '' } } });
const pieces: Piece[] = [];
for (const session of [...sessionsOf('dev'), ...sessionsOf('lessons')]) {
  if (values.only && (values.only === 'steady') !== (session.kind === 'steady')) continue;
  for (const one of session.seed < 2000 ? [session, asOldRecord(session)] : [session])
    pieces.push(heardPiece(one));
  console.error(session.name);
}
for (const steady of [true, false]) {
  const own = pieces.filter((piece) => piece.steady === steady);
  if (own.length === 0) continue;
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
