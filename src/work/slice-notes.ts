import { type Accessor, untrack } from 'solid-js';
import type { NamedSlice } from '../../shared/cut/slice.ts';
import type { SliceNote } from '../../shared/cut/slice-note.ts';
import type { TakeSound } from './desk.ts';
import type { WorkerLine } from './workers.ts';

/** Hears which note each slice plays, once for a take and its edges. */
export function makeSliceNotes(
  line: WorkerLine,
  sound: Accessor<TakeSound | null>,
): (slices: readonly NamedSlice[]) => Promise<readonly (SliceNote | null)[]> {
  let take: TakeSound | null = null;
  let known = new Map<string, SliceNote | null>();
  const key = (slice: NamedSlice) => `${slice.landing} ${slice.end}`;

  return async (slices) => {
    const now = untrack(sound);
    if (now !== take) {
      take = now;
      known = new Map();
    }
    if (!now) return slices.map(() => null);
    const mine = known;
    const fresh = slices.filter((slice) => !mine.has(key(slice)));
    if (fresh.length > 0) {
      const notes = await line.jobs.notes(new AbortController().signal, { slices: fresh });
      fresh.forEach((slice, i) => {
        mine.set(key(slice), notes[i] ?? null);
      });
    }
    return slices.map((slice) => mine.get(key(slice)) ?? null);
  };
}
