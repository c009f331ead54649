import type { Seconds } from '../../../shared/math/units.ts';
import type { Row } from './writing.ts';

/** Where things stand on the sheet, in CSS pixels. */

/** The margin with the line's number, and the free edge on the other side. */
export const margin = { left: 52, right: 20 } as const;

/** Inside one row, from its top. */
export interface RowMeasure {
  readonly height: number;
  /** Middle of the beats' dots. */
  readonly beats: number;
  /** The block of a word. */
  readonly top: number;
  readonly bottom: number;
  /** Foot of a landing's stroke. */
  readonly foot: number;
}

/** @param rem how large text is: a note fits under the words */
export function measureRow(height: number, rem: number): RowMeasure {
  const bottom = height - 4 - 0.875 * rem;
  return { height, beats: 9, top: 17, bottom, foot: bottom + 9 };
}

/** Whole lines always: as many rows as fit, none lower than `least`. */
export function rowHeight(available: number, least: number): number {
  const fit = Math.max(1, Math.floor(available / least));
  return Math.min(least * 1.5, Math.max(least, available / fit));
}

export const xOf = (row: Row, time: Seconds): number => margin.left + (time - row.from) * row.scale;

export const timeOf = (row: Row, x: number): Seconds => row.from + (x - margin.left) / row.scale;
