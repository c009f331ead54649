import type { NamedSlice } from '../../../shared/cut/slice.ts';
import type { Phrase } from '../../../shared/hear/heard.ts';
import type { Seconds } from '../../../shared/math/units.ts';

/** One row of writing: a phrase, or the part of a long one that fits the page's width. */
export interface Row {
  /** The line (phrase) it belongs to, from 0, and which part of it, from 0. */
  readonly line: number;
  readonly part: number;
  readonly from: Seconds;
  readonly until: Seconds;
  /** CSS pixels for each second. */
  readonly scale: number;
  /** The words whose landing stands here, as indices into the slices, and the first's place in its line. */
  readonly first: number;
  readonly count: number;
  readonly place: number;
}

/** How lines are set: all on one time scale, or each as wide as the page. */
export type Setting = 'one scale' | 'full width';

export interface WritingInput {
  readonly phrases: readonly Phrase[];
  /** In order of landing. */
  readonly slices: readonly NamedSlice[];
  readonly seconds: Seconds;
  readonly width: number;
  readonly setting: Setting;
  /** Seconds that the width holds when all lines share one scale. */
  readonly span: Seconds;
}

/** Where each line starts and ends: phrases, with what rings on after them up to the next. */
function linesOf({ phrases, slices, seconds }: WritingInput): { from: Seconds; until: Seconds }[] {
  if (phrases.length === 0) return [{ from: 0, until: seconds }];
  return phrases.map((phrase, i) => {
    const next = phrases[i + 1]?.start ?? seconds;
    const own = slices.find((slice) => slice.landing >= phrase.start && slice.landing < next);
    const from = Math.max(0, Math.min(phrase.start, own?.start ?? phrase.start) - 0.05);
    return { from, until: Math.max(phrase.end, Math.min(next, phrase.end + 0.6)) };
  });
}

/** A width in seconds that most lines of a take fit in without a turn. */
export function fittingSpan(phrases: readonly Phrase[]): Seconds {
  const sorted = phrases.map((phrase) => phrase.end - phrase.start + 0.6).sort((x, y) => x - y);
  const most = sorted[Math.floor((sorted.length - 1) * 0.9)] ?? 8;
  const longest = sorted[sorted.length - 1] ?? most;
  // No turn at all where that costs little.
  return Math.min(16, Math.max(3, longest <= most * 1.35 ? longest + 0.1 : most));
}

/**
 * Sets the take like writing: a phrase a line, turned at a word's start where it is too long for the
 * page. `width` in CSS pixels.
 */
export function setWriting(input: WritingInput): Row[] {
  const { slices, width } = input;
  const lines = linesOf(input);
  const common = width / Math.max(0.05, input.span);
  const rows: Row[] = [];
  let index = 0;
  lines.forEach(({ from, until }, line) => {
    const last = line === lines.length - 1;
    const next = last ? Number.POSITIVE_INFINITY : lines[line + 1].from;
    const scale = input.setting === 'full width' ? width / Math.max(0.2, until - from) : common;
    const capacity = width / scale;
    let start = from;
    let place = 0;
    for (let part = 0; start < until - 1e-6; part++) {
      let end = until;
      if (until - start > capacity * 1.001) {
        end = start + capacity;
        for (let i = index; i < slices.length && slices[i].start <= start + capacity; i++)
          if (slices[i].start > start + capacity * 0.4) end = slices[i].start;
      }
      const first = index;
      const limit = end >= until ? next : end;
      // A word whose lead-in opens the next row belongs there, though its landing might fit here.
      while (index < slices.length && slices[index].landing < limit && slices[index].start < limit)
        index++;
      rows.push({ line, part, from: start, until: end, scale, first, count: index - first, place });
      place += index - first;
      start = end;
    }
  });
  return rows;
}

/** The row that shows a moment, or the nearest one before it; -1 for none. */
export function rowAt(rows: readonly Row[], time: Seconds): number {
  let low = 0;
  let high = rows.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (rows[middle].from <= time) low = middle + 1;
    else high = middle;
  }
  return low - 1;
}
