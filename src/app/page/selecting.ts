import type { Pad } from '../../../shared/cut/pad.ts';
import type { NamedSlice } from '../../../shared/cut/slice.ts';
import type { Placement } from '../../../shared/loop/lane.ts';
import { samePlace } from '../../store/pad-commands.ts';
import { placementsOf } from '../../store/placement-commands.ts';
import type { Project } from '../../store/project.ts';
import type { Selection } from '../../store/session.ts';

/** What a selection speaks of, found in the document. */

export function chosenSlices(project: Project, selection: Selection): NamedSlice[] {
  if (selection.kind !== 'slices') return [];
  return project.slices.filter((slice) => selection.ids.includes(slice.id));
}

export function chosenPads(project: Project, selection: Selection): Pad[] {
  if (selection.kind === 'pads')
    return project.pads.filter((pad) => selection.places.some((place) => samePlace(place, pad)));
  if (selection.kind === 'slices')
    return project.pads.filter((pad) => selection.ids.includes(pad.slice));
  return [];
}

export function chosenPlacements(project: Project, selection: Selection): Placement[] {
  if (selection.kind !== 'placements') return [];
  const lane = project.lanes.find((one) => one.id === selection.lane);
  return lane ? placementsOf(lane).filter((one) => selection.ids.includes(one.id)) : [];
}

/** What is left of a selection: what is gone, or stands on a lane that is not in view, is not chosen any more. */
export function stillChosen(
  project: Project,
  lane: string | null,
  selection: Selection,
): Selection {
  const left = (ids: readonly string[], there: readonly { readonly id: string }[]) =>
    ids.filter((id) => there.some((one) => one.id === id));
  if (selection.kind === 'slices') {
    const ids = left(selection.ids, project.slices);
    return ids.length === selection.ids.length ? selection : orNothing({ ...selection, ids });
  }
  if (selection.kind === 'placements') {
    const ids =
      selection.lane === lane ? left(selection.ids, chosenPlacements(project, selection)) : [];
    return ids.length === selection.ids.length ? selection : orNothing({ ...selection, ids });
  }
  return selection;
}

/** A selection of nothing speaks of nothing. */
export const orNothing = (selection: Selection & { readonly ids: readonly string[] }): Selection =>
  selection.ids.length > 0 ? selection : { kind: 'nothing' };

/** The slices that a selection leads to, to be marked on the sheet. */
export function slicesBehind(project: Project, selection: Selection): ReadonlySet<string> {
  if (selection.kind === 'slices') return new Set(selection.ids);
  if (selection.kind === 'pads')
    return new Set(chosenPads(project, selection).map((pad) => pad.slice));
  if (selection.kind === 'placements')
    return new Set(chosenPlacements(project, selection).map((one) => one.slice));
  return new Set();
}

/** What all agree on; null where they differ or there is none. */
export function agreed<T, V>(items: readonly T[], of: (item: T) => V): V | null {
  const [first] = items;
  if (first === undefined) return null;
  const value = of(first);
  return items.every((item) => of(item) === value) ? value : null;
}
