import type { Onset } from '../hear/heard.ts';
import type { Seconds } from '../math/units.ts';
import type { NamedSlice } from './slice.ts';
import { beforeAttack } from './suggest.ts';

/** Shortest slice, and the least that stands between a landing and its slice's end. */
export const shortest: Seconds = 0.01;

const clamp = (value: number, low: number, high: number) => Math.min(Math.max(value, low), high);

function replace(
  slices: readonly NamedSlice[],
  id: string,
  change: (slice: NamedSlice, index: number) => NamedSlice | readonly NamedSlice[],
): NamedSlice[] {
  return slices.flatMap((slice, i) => (slice.id === id ? change(slice, i) : slice));
}

/** Draws a moment to just before the nearest attack within `reach` seconds; else leaves it. */
export function snapToOnset(onsets: readonly Onset[], time: Seconds, reach: Seconds): Seconds {
  let best: Onset | undefined;
  for (const onset of onsets)
    if (!best || Math.abs(onset.time - time) < Math.abs(best.time - time)) best = onset;
  return best && Math.abs(best.time - time) <= reach ? Math.max(0, best.time - beforeAttack) : time;
}

/** Moves a slice's start or end. An edge shared with a neighbour takes the neighbour's along. */
export function moveEdge(
  slices: readonly NamedSlice[],
  id: string,
  edge: 'start' | 'end',
  time: Seconds,
  takeSeconds: Seconds,
): NamedSlice[] {
  const index = slices.findIndex((slice) => slice.id === id);
  const slice = slices[index];
  if (!slice) return [...slices];
  const shared = (a: Seconds, b: Seconds) => Math.abs(a - b) < 1e-6;
  if (edge === 'start') {
    const before = slices[index - 1];
    const joined = before && shared(before.end, slice.start);
    const low = before ? (joined ? before.landing + shortest : before.end) : 0;
    const high = slice.end - shortest;
    if (high <= low) return [...slices];
    const start = clamp(time, low, high);
    const landing = Math.max(slice.landing, start);
    return slices.map((s) =>
      s === slice
        ? { ...s, start, landing, by: 'hand' }
        : joined && s === before
          ? { ...s, end: start, by: 'hand' }
          : s,
    );
  }
  const after = slices[index + 1];
  const joined = after && shared(after.start, slice.end);
  const high = after ? (joined ? after.landing : after.start) : takeSeconds;
  if (high < slice.landing + shortest) return [...slices];
  const end = clamp(time, slice.landing + shortest, high);
  return slices.map((s) =>
    s === slice
      ? { ...s, end, by: 'hand' }
      : joined && s === after
        ? { ...s, start: end, by: 'hand' }
        : s,
  );
}

/** Moves the landing inside its slice. */
export function moveLanding(
  slices: readonly NamedSlice[],
  id: string,
  time: Seconds,
): NamedSlice[] {
  return replace(slices, id, (slice) => ({
    ...slice,
    landing: clamp(time, slice.start, Math.max(slice.start, slice.end - shortest)),
    by: 'hand',
  }));
}

/**
 * Cuts a slice in two at a moment inside it. The second part lands on the first onset after the cut,
 * or on the cut itself; the first keeps its landing where it can. Unchanged where the cut would leave
 * a part shorter than `shortest`.
 */
export function splitSlice(
  slices: readonly NamedSlice[],
  id: string,
  at: Seconds,
  onsets: readonly Onset[],
  newId: string,
): NamedSlice[] {
  return replace(slices, id, (slice) => {
    if (at < slice.start + 2 * shortest || at > slice.end - 2 * shortest) return slice;
    const attack = onsets.find((onset) => onset.time >= at && onset.time < slice.end - shortest);
    const second = slice.landing >= at ? slice.landing : (attack?.time ?? at);
    const first = slice.landing < at - shortest ? slice.landing : slice.start;
    return [
      { ...slice, landing: first, end: at, by: 'hand' },
      { ...slice, id: newId, start: at, landing: second, by: 'hand' },
    ];
  });
}

/** Joins neighbours (two or more ids) into one slice with the first one's name and landing. */
export function joinSlices(slices: readonly NamedSlice[], ids: readonly string[]): NamedSlice[] {
  const chosen = slices.filter((slice) => ids.includes(slice.id));
  const first = chosen[0];
  const last = chosen[chosen.length - 1];
  if (!first || !last || first === last) return [...slices];
  const from = slices.indexOf(first);
  const until = slices.indexOf(last);
  return [
    ...slices.slice(0, from),
    { ...first, end: last.end, by: 'hand' },
    ...slices.slice(until + 1),
  ];
}
