import type { NamedSlice } from '../../../shared/cut/slice.ts';
import type { Beat } from '../../../shared/hear/heard.ts';
import type { Seconds } from '../../../shared/math/units.ts';
import { margin, type RowMeasure, timeOf, xOf } from './page-measure.ts';
import type { Row } from './writing.ts';

/** What lies under a point of the sheet. */
export type Found =
  | { readonly kind: 'line'; readonly row: Row }
  | { readonly kind: 'beat'; readonly row: Row; readonly time: Seconds }
  | { readonly kind: 'above'; readonly row: Row; readonly time: Seconds }
  | { readonly kind: 'landing'; readonly row: Row; readonly id: string }
  | {
      readonly kind: 'edge';
      readonly row: Row;
      readonly id: string;
      readonly edge: 'start' | 'end';
    }
  | { readonly kind: 'word'; readonly row: Row; readonly id: string; readonly time: Seconds }
  | { readonly kind: 'paper'; readonly row: Row; readonly time: Seconds };

export interface FindInput {
  readonly rows: readonly Row[];
  readonly slices: readonly NamedSlice[];
  readonly beats: readonly Beat[];
  readonly measure: RowMeasure;
  /** How near is near: a finger needs more than a mouse. */
  readonly reach: { readonly beat: number; readonly edge: number; readonly landing: number };
  /** A finger takes hold of the edges of chosen words only: elsewhere it would always meet one. */
  readonly edgesOf: ReadonlySet<string> | null;
}

/** Finds what is under a point, `x` and `y` in CSS pixels from the top left of the whole writing. */
export function findOnSheet(input: FindInput, x: number, y: number): Found | null {
  const { rows, measure, reach } = input;
  const row = rows[Math.floor(y / measure.height)];
  if (!row) return null;
  const inRow = y - Math.floor(y / measure.height) * measure.height;
  if (x < margin.left - 10) return { kind: 'line', row };
  const time = timeOf(row, x);

  if (inRow < measure.top) {
    const near = nearest(
      input.beats.filter((beat) => beat.time >= row.from && beat.time < row.until),
      (beat) => Math.abs(xOf(row, beat.time) - x),
      reach.beat,
    );
    return near ? { kind: 'beat', row, time: near.time } : { kind: 'above', row, time };
  }
  const words = input.slices.slice(row.first, row.first + row.count);
  if (inRow > measure.bottom) {
    const near = nearest(words, (word) => Math.abs(xOf(row, word.landing) - x), reach.landing);
    if (near) return { kind: 'landing', row, id: near.id };
  }
  const edges = words
    .filter((word) => input.edgesOf === null || input.edgesOf.has(word.id))
    .flatMap((word) => [
      { id: word.id, edge: 'start' as const, at: xOf(row, word.start) },
      { id: word.id, edge: 'end' as const, at: xOf(row, word.end) - 1 },
    ]);
  const edge = nearest(edges, (one) => Math.abs(one.at - x), reach.edge);
  if (edge) return { kind: 'edge', row, id: edge.id, edge: edge.edge };
  const word = words.findLast((one) => time >= one.start && time < one.end);
  return word ? { kind: 'word', row, id: word.id, time } : { kind: 'paper', row, time };
}

function nearest<T>(items: readonly T[], distance: (item: T) => number, within: number): T | null {
  let best: T | null = null;
  let least = within;
  for (const item of items) {
    const d = distance(item);
    if (d < least) {
      best = item;
      least = d;
    }
  }
  return best;
}
