import type { Beats } from '../../shared/math/units.ts';
import type { Chance } from './chance.ts';

/** One beat or a few filled with notes: lengths in beats, negative for a rest. */
export type Cell = readonly Beats[];
/** A note's place and length. */
export type Timed = readonly [at: Beats, length: Beats];

const third = 1 / 3;
const sixth = 1 / 6;

/** Where a beat has two halves; common practice, no source. */
const simple: readonly Cell[] = [
  [1],
  [1],
  [2],
  [3],
  [4],
  [0.5, 0.5],
  [0.5, 0.5],
  [1.5, 0.5],
  [1.5, 0.25, 0.25],
  [0.75, 0.25],
  [0.75, 0.25],
  [0.25, 0.75],
  [1.75, 0.25],
  [0.25, 0.25, 0.25, 0.25],
  [0.25, 0.25, 0.25, 0.25],
  [0.5, 0.25, 0.25],
  [0.25, 0.25, 0.5],
  [0.25, 0.5, 0.25],
  [0.5, 1, 0.5],
  [0.5, 1, 1, 0.5],
  [1.25, 0.25, 0.25, 0.25],
  [-0.25, 0.25, 0.25, 0.25],
  [-0.5, 0.5],
  [-0.5, 0.5, 0.5, 0.5],
  [-0.5, 0.25, 0.25],
  [-1],
  [-1, 1],
  [0.5, -0.5],
  [third, third, third],
  [2 * third, third],
  [sixth, sixth, sixth, 0.5],
];

/** Where it has three thirds (6/8, 9/8, 12/8). */
const compound: readonly Cell[] = [
  [1],
  [1],
  [2],
  [3],
  [2 * third, third],
  [2 * third, third],
  [2 * third, third],
  [third, third, third],
  [third, third, third],
  [third, 2 * third],
  [1 + 2 * third, third],
  [1 + third, third, third],
  [0.5, sixth, third],
  [0.5, sixth, third],
  [2 * third, sixth, sixth],
  [third, third, sixth, sixth],
  [third, sixth, sixth, third],
  [sixth, sixth, sixth, sixth, sixth, sixth],
  [sixth, sixth, sixth, sixth, sixth, sixth],
  [-third, third, third],
  [-third, third, third],
  [-2 * third, third],
  [third, -third, third],
  [third, -2 * third],
  [2 * third, 2 * third, 2 * third],
  [0.5, 0.5],
  [-1],
  [-1, 1],
];

/** A few cells that a passage is made of, so that its rhythm hangs together; at least one divides the beat. */
export function vocabulary(chance: Chance, triple: boolean): Cell[] {
  const cells = triple ? compound : simple;
  const moving = cells.filter(
    (cell) => cell.length > 1 && cell.some((part) => part > 0 && part < 1),
  );
  const others = Array.from({ length: chance.whole(1, 4) }, () => chance.pick(cells));
  return [chance.pick(moving), ...others];
}

/** Fills so many beats with cells; the last is cut off. */
export function fill(chance: Chance, cells: readonly Cell[], beats: Beats): Timed[] {
  const notes: Timed[] = [];
  let at = 0;
  while (at < beats - 1e-6)
    for (const part of chance.pick(cells)) {
      const length = Math.min(Math.abs(part), beats - at);
      if (length < 1e-6) break;
      if (part > 0) notes.push([at, length]);
      at += length;
    }
  return notes;
}

/** A rhythm of bars, some of which return; now and then a cell goes on over the bar line. */
export function barsOf(
  chance: Chance,
  cells: readonly Cell[],
  beats: Beats,
  bars: number,
): Timed[] {
  if (chance.odds(0.25)) return fill(chance, cells, beats * bars);
  const motifs = [fill(chance, cells, beats), fill(chance, cells, beats)];
  const likely = chance.between(0.4, 0.9);
  return Array.from({ length: bars }, (_, bar) => {
    const own = chance.odds(likely)
      ? motifs[bar % chance.pick([1, 2])]
      : fill(chance, cells, beats);
    return own.map(([at, length]): Timed => [bar * beats + at, length]);
  }).flat();
}
