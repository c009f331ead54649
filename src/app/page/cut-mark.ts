import { type Accessor, createMemo, createSignal } from 'solid-js';
import { shortest } from '../../../shared/cut/edits.ts';
import type { NamedSlice } from '../../../shared/cut/slice.ts';
import type { Onset } from '../../../shared/hear/heard.ts';
import type { Seconds } from '../../../shared/math/units.ts';

/** A place in a word. */
export interface Spot {
  readonly slice: string;
  readonly time: Seconds;
}

/**
 * Where a word would be cut, as a caret stands in a text: set down by a press or by keys, and shown. Beside
 * it the place at which the mouse rests, which is shown by the mouse itself.
 */
export interface CutMark {
  /** Null where none stands, or none that a cut could be made at. */
  readonly at: Accessor<Spot | null>;
  readonly set: (spot: Spot | null) => void;
  readonly pointed: () => Spot | null;
  readonly point: (spot: Spot | null) => void;
}

/** Whether a word can be cut there: both parts have to be long enough to sound. */
export const cuttable = (slice: NamedSlice, time: Seconds): boolean =>
  time >= slice.start + 2 * shortest && time <= slice.end - 2 * shortest;

export function createCutMark(
  sliceById: Accessor<ReadonlyMap<string, NamedSlice>>,
  chosen: Accessor<readonly string[]>,
): CutMark {
  const [spot, set] = createSignal<Spot | null>(null);
  let pointed: Spot | null = null;
  const valid = (one: Spot | null): Spot | null => {
    const slice = one && sliceById().get(one.slice);
    return slice && cuttable(slice, one.time) ? one : null;
  };
  return {
    at: createMemo(() => {
      const now = valid(spot());
      return now && chosen().includes(now.slice) ? now : null;
    }),
    set,
    pointed: () => valid(pointed),
    point: (next) => {
      pointed = next;
    },
  };
}

/** Attacks inside a word at which it could be cut. */
export const attacksIn = (slice: NamedSlice, onsets: readonly Onset[]): readonly Onset[] =>
  onsets.filter((one) => one.time > slice.landing + 0.03 && one.time < slice.end - 0.03);
