import * as edits from '../../shared/cut/edits.ts';
import type { NamedSlice, Slice } from '../../shared/cut/slice.ts';
import type { Onset } from '../../shared/hear/heard.ts';
import type { Percent, Seconds } from '../../shared/math/units.ts';
import { type Command, freshId, mapChanged, patched } from './command.ts';
import type { Project } from './project.ts';
import { mergeSuggested } from './suggested.ts';

/**
 * Edits of the slices. They are kept in the order of their landings. Two slices that touch share one
 * cut: moving it moves both. Whatever is edited by hand belongs to the hand (`by: 'hand'`) and is left
 * alone when cuts are suggested again.
 */

/**
 * Takes over edited slices. One whose edges came out where they were stays the very object that it was:
 * a hand that moved nothing has set nothing, and what draws it need not look again.
 */
function withSlices(project: Project, edited: readonly NamedSlice[]): Project {
  const before = project.slices;
  const slices = edited.map((slice) => before.find((old) => sameSlice(old, slice)) ?? slice);
  const same = slices.length === before.length && slices.every((s, i) => s === before[i]);
  return same ? project : { ...project, slices };
}

const sameSlice = (a: NamedSlice, b: NamedSlice): boolean =>
  a.id === b.id &&
  a.start === b.start &&
  a.landing === b.landing &&
  a.end === b.end &&
  a.fadeIn === b.fadeIn &&
  a.fadeOut === b.fadeOut;

function usedIds(project: Project): string[] {
  const ids = project.slices.map((slice) => slice.id);
  for (const pad of project.pads) ids.push(pad.slice);
  for (const lane of project.lanes)
    if (lane.source.kind === 'flip') for (const p of lane.source.placements) ids.push(p.slice);
  return ids;
}

/** Moves a slice's start or end, as far as its landing and its neighbours let it. */
export function moveEdge(id: string, edge: 'start' | 'end', to: Seconds): Command {
  return {
    label: 'move a cut',
    apply: (project) =>
      withSlices(project, edits.moveEdge(project.slices, id, edge, to, project.take.seconds)),
  };
}

/** Moves a slice's landing, within the slice. */
export function moveLanding(id: string, to: Seconds): Command {
  return {
    label: 'move a landing',
    apply: (project) => withSlices(project, edits.moveLanding(project.slices, id, to)),
  };
}

/**
 * Cuts a slice in two at a moment. The first part keeps the name; the second lands on the first of
 * `onsets` after the cut, or on the cut itself.
 */
export function splitSlice(id: string, at: Seconds, onsets: readonly Onset[]): Command {
  return {
    label: 'split a slice',
    apply: (project) =>
      withSlices(
        project,
        edits.splitSlice(project.slices, id, at, onsets, freshId('s', usedIds(project))),
      ),
  };
}

/**
 * Makes one slice of all from the first to the last of `ids`. It lands where the first one did and keeps
 * its name; pads and placements of the others play it now.
 */
export function joinSlices(ids: readonly string[]): Command {
  return {
    label: 'join slices',
    apply: (project) => {
      const slices = edits.joinSlices(project.slices, ids);
      const left = new Set(slices.map((slice) => slice.id));
      const heir = project.slices.find((slice) => ids.includes(slice.id))?.id;
      if (heir === undefined || left.size === project.slices.length) return project;
      return retarget(withSlices(project, slices), (id) => (left.has(id) ? id : heir));
    },
  };
}

/** Takes slices away, with the pads and placements that play them. */
export function deleteSlices(ids: readonly string[]): Command {
  return {
    label: ids.length === 1 ? 'delete a slice' : 'delete slices',
    apply: (project) => {
      const gone = new Set(ids);
      const slices = project.slices.filter((slice) => !gone.has(slice.id));
      if (slices.length === project.slices.length) return project;
      return retarget({ ...project, slices }, (id) => (gone.has(id) ? null : id));
    },
  };
}

/** Puts a slice where there is none, between its neighbours' landings. */
export function addSlice(slice: Slice): Command {
  return {
    label: 'add a slice',
    apply: (project) => {
      const after = project.slices.find((s) => s.landing > slice.landing);
      const before = project.slices.findLast((s) => s.landing <= slice.landing);
      const start = before
        ? Math.max(slice.start, Math.min(before.end, slice.landing))
        : Math.max(0, slice.start);
      const end = after ? Math.min(slice.end, Math.max(after.start, slice.landing)) : slice.end;
      if (before && slice.landing - before.landing < edits.shortest) return project;
      if (end - slice.landing < edits.shortest) return project;
      const fresh: NamedSlice = {
        id: freshId('s', usedIds(project)),
        start,
        landing: slice.landing,
        end,
        by: 'hand',
      };
      return withSlices(
        project,
        [...project.slices, fresh].sort((a, b) => a.landing - b.landing),
      );
    },
  };
}

/** Sets fades, in seconds; undefined: the short ones that every cut gets. */
export function setFades(
  ids: readonly string[],
  fades: { readonly fadeIn?: Seconds; readonly fadeOut?: Seconds },
): Command {
  return {
    label: 'set fades',
    apply: (project) =>
      withSlices(
        project,
        mapChanged(project.slices, (slice) =>
          ids.includes(slice.id) ? patched(slice, { ...fades, by: 'hand' }) : slice,
        ),
      ),
  };
}

/**
 * Sets how many cuts there are, few (0) to many (100), with the slices suggested for it. Slices made by
 * hand and slices that a lane plays stay; a suggestion that lands where a slice landed keeps its name.
 * A pad whose slice is gone plays the slice that now holds its landing.
 */
export function setCuts(cuts: Percent, suggested: readonly Slice[]): Command {
  return {
    label: 'change how many cuts',
    apply: (project) => {
      const merged = mergeSuggested(project, suggested);
      if (cuts === project.cuts && merged.slices === project.slices) return project;
      const next = { ...project, cuts, slices: merged.slices };
      const alive = new Set(merged.slices.map((slice) => slice.id));
      // Where nothing is left to hold its landing, what played it goes too.
      return retarget(next, (id) => merged.heirs.get(id) ?? (alive.has(id) ? id : null));
    },
  };
}

/** Points pads and placements at other slices; null takes them away. */
function retarget(project: Project, heir: (id: string) => string | null): Project {
  const follow = <T extends { readonly slice: string }>(items: readonly T[]): readonly T[] => {
    const moved = items.flatMap((item) => {
      const slice = heir(item.slice);
      if (slice === null) return [];
      return slice === item.slice ? [item] : [{ ...item, slice }];
    });
    return moved.length === items.length && moved.every((item, i) => item === items[i])
      ? items
      : moved;
  };
  const pads = follow(project.pads);
  const lanes = mapChanged(project.lanes, (lane) => {
    if (lane.source.kind !== 'flip') return lane;
    const placements = follow(lane.source.placements);
    return placements === lane.source.placements
      ? lane
      : { ...lane, source: { kind: 'flip' as const, placements } };
  });
  return patched(project, { pads, lanes });
}
