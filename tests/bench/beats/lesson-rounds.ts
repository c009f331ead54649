import type { Session } from '../../perform/record.ts';
import { lesson } from '../../perform/sets.ts';
import { partsPiece, practicePiece } from './practice.ts';

/** The first of the pieces, and how many rounds of ten there are. */
const FIRST = 401;
export const ROUNDS = 66;

/** Pieces that the networks of onsets and intervals were not taught on, for those that build on them. */
export function lessonRound(round: number): Session[] {
  const one = FIRST + round;
  const [two, three] = [FIRST + 2 * round, FIRST + 3 * round];
  return [
    ...[three, three + 1, three + 2].map((number) => practicePiece('piano', number)),
    ...[two, two + 1].map((number) => lesson('piano', number)),
    practicePiece('trio', one),
    lesson('trio', one),
    ...[two, two + 1].map((number) => practicePiece('extreme', number)),
    lesson('extreme', one),
  ];
}

/** Two bowed, blown or plucked ensembles more for each round, for what is to be right for them, too. */
export function ensembleRound(round: number): Session[] {
  const two = FIRST + 2 * round;
  return [two, two + 1].map((number) => lesson('ensemble', number));
}

/** The first pieces in parts are what the networks of onsets and intervals were taught further on. */
const FIRST_PARTS = 61;

/** All pieces in parts, those of the rounds too. */
export function partsPieces(): Session[] {
  const upTo = (last: number) => Array.from({ length: last }, (_, i) => i + 1);
  const last = FIRST_PARTS + ROUNDS - 1;
  return [
    ...upTo(last).map((number) => partsPiece('piano', number)),
    ...upTo(FIRST_PARTS + ROUNDS / 2 - 1).map((number) => partsPiece('trio', number)),
    ...upTo(last).map((number) => partsPiece('extreme', number)),
  ];
}

/** Pieces in parts for each round. */
export function partsRound(round: number): Session[] {
  const number = FIRST_PARTS + round;
  const two = [partsPiece('piano', number), partsPiece('extreme', number)];
  return round % 2 === 0 ? [...two, partsPiece('trio', FIRST_PARTS + round / 2)] : two;
}
