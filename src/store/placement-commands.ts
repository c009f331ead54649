import type { Lane, Placement } from '../../shared/loop/lane.ts';
import { beatsOf } from '../../shared/loop/length.ts';
import { makeRandom } from '../../shared/math/random.ts';
import type { Beats } from '../../shared/math/units.ts';
import { type Command, freshId, mapChanged, patched } from './command.ts';
import { changeOne } from './lane-commands.ts';
import { plainPad } from './pad-commands.ts';

/**
 * Edits of what a flip plays: placements of slices, counted in beats from the lane's start. On a lane
 * that plays straight these do nothing; `addLane({ kind: 'flip', placements: [] })` starts a flip.
 * A position before the start or past the end comes round again, as a loop does.
 */
export type NewPlacement = Pick<Placement, 'slice' | 'at'> & Partial<Placement>;

/** What a placement says besides which slice plays, and when. */
export type PlacementSettings = Omit<Placement, 'id' | 'slice' | 'at'>;

export const plainPlacement: PlacementSettings = {
  length: null,
  semitones: plainPad.semitones,
  cents: plainPad.cents,
  level: plainPad.level,
  direction: plainPad.direction,
  rings: 'next',
};

/** A position brought into the lane, round and round. */
export function wrapped(at: Beats, length: Beats): Beats {
  const inside = at - Math.floor(at / length) * length;
  return inside >= length ? 0 : inside;
}

/** What a lane plays; empty for a straight one. */
export function placementsOf(lane: Lane): readonly Placement[] {
  return lane.source.kind === 'flip' ? lane.source.placements : [];
}

const inOrder = (list: readonly Placement[]) =>
  [...list].sort((a, b) => a.at - b.at || (a.id < b.id ? -1 : a.id > b.id ? 1 : 0));

function edit(
  laneId: string,
  label: string,
  change: (list: readonly Placement[], lane: Lane) => readonly Placement[],
): Command {
  return changeOne(laneId, label, (lane) => {
    if (lane.source.kind !== 'flip') return lane;
    const before = lane.source.placements;
    const after = change(before, lane);
    if (after === before) return lane;
    return { ...lane, source: { kind: 'flip', placements: inOrder(after) } };
  });
}

function added(
  list: readonly Placement[],
  fresh: readonly NewPlacement[],
  lane: Lane,
): readonly Placement[] {
  const ids = new Set(list.map((p) => p.id));
  const result = [...list];
  for (const one of fresh) {
    const id = freshId('p', ids);
    ids.add(id);
    result.push({ ...plainPlacement, ...one, id, at: wrapped(one.at, beatsOf(lane)) });
  }
  return result;
}

/** Sets slices on the lane. */
export function placeSlices(laneId: string, fresh: readonly NewPlacement[]): Command {
  return place(laneId, fresh.length === 1 ? 'place a slice' : 'place slices', fresh, 0);
}

/** What was played in one pass of the lane: over what is there, or instead of it as far as the pass went. */
export function recordPass(
  laneId: string,
  hits: readonly NewPlacement[],
  how: 'over' | 'instead',
  until: Beats,
): Command {
  return place(laneId, 'play a pass', hits, how === 'instead' ? until : 0);
}

/** @param clear how much of the lane is cleared first, from its start */
function place(
  laneId: string,
  label: string,
  fresh: readonly NewPlacement[],
  clear: Beats,
): Command {
  return {
    label,
    apply: (project) => {
      const known = new Set(project.slices.map((slice) => slice.id));
      const good = fresh.filter((one) => known.has(one.slice) && Number.isFinite(one.at));
      if (good.length === 0) return project;
      const change = edit(laneId, label, (list, lane) =>
        added(
          list.filter((p) => p.at >= clear),
          good,
          lane,
        ),
      );
      return change.apply(project);
    },
  };
}

/** Moves placements by a number of beats. */
export function movePlacements(laneId: string, ids: readonly string[], by: Beats): Command {
  return edit(laneId, 'move', (list, lane) =>
    by === 0
      ? list
      : mapChanged(list, (p) =>
          ids.includes(p.id) ? patched(p, { at: wrapped(p.at + by, beatsOf(lane)) }) : p,
        ),
  );
}

const words: Record<keyof PlacementSettings, string> = {
  length: 'change a length',
  semitones: 'change a pitch',
  cents: 'change a tuning',
  formants: 'change what a pitch moves',
  level: 'change a level',
  direction: 'turn a direction',
  rings: 'change how it rings',
};

/** Changes what placements say: length, pitch, level ... */
export function changePlacements(
  laneId: string,
  ids: readonly string[],
  patch: Partial<PlacementSettings>,
): Command {
  const [first] = Object.keys(patch) as (keyof PlacementSettings)[];
  return edit(laneId, first ? words[first] : 'change', (list) =>
    mapChanged(list, (p) => (ids.includes(p.id) ? patched<Placement>(p, patch) : p)),
  );
}

export function removePlacements(laneId: string, ids: readonly string[]): Command {
  return edit(laneId, ids.length === 1 ? 'remove from the lane' : 'remove several', (list) => {
    const left = list.filter((p) => !ids.includes(p.id));
    return left.length === list.length ? list : left;
  });
}

/** Plays placements again `times` more, each time `every` beats later. */
export function repeatPlacements(
  laneId: string,
  ids: readonly string[],
  every: Beats,
  times: number,
): Command {
  return edit(laneId, 'repeat', (list, lane) => {
    const chosen = list.filter((p) => ids.includes(p.id));
    if (chosen.length === 0 || every <= 0 || times < 1) return list;
    const fresh = Array.from({ length: times }, (_, k) =>
      chosen.map((p) => ({ ...p, at: p.at + every * (k + 1) })),
    ).flat();
    return added(
      list,
      fresh.filter((p) => p.at < beatsOf(lane)),
      lane,
    );
  });
}

const inBar = (p: Placement, bar: number, lane: Lane) =>
  p.at >= bar * lane.beatsPerBar && p.at < (bar + 1) * lane.beatsPerBar;

/** Copies a bar (counted from 0) onto another, in place of what was there. */
export function copyBar(laneId: string, from: number, to: number): Command {
  return edit(laneId, 'copy a bar', (list, lane) => {
    if (from === to || [from, to].some((bar) => bar < 0 || bar >= lane.bars)) return list;
    const shift = (to - from) * lane.beatsPerBar;
    const copies = list
      .filter((p) => inBar(p, from, lane))
      .map((p) => ({ ...p, at: p.at + shift }));
    const rest = list.filter((p) => !inBar(p, to, lane));
    if (copies.length === 0 && rest.length === list.length) return list;
    return added(rest, copies, lane);
  });
}

export function clearBar(laneId: string, bar: number): Command {
  return edit(laneId, 'clear a bar', (list, lane) => {
    const left = list.filter((p) => !inBar(p, bar, lane));
    return left.length === list.length ? list : left;
  });
}

/**
 * Another version of the same rhythm: some neighbours of each bar exchange their slices, the first of
 * a bar stays. The same seed gives the same version.
 */
export function varyPlacements(laneId: string, seed: number): Command {
  return edit(laneId, 'vary', (list, lane) => {
    const random = makeRandom(seed);
    const slices = list.map((p) => p.slice);
    for (let bar = 0; bar < lane.bars; bar++) {
      const at = list.flatMap((p, i) => (inBar(p, bar, lane) ? [i] : [])).slice(1);
      for (let k = at.length - 1; k > 0; k--) {
        if (random() < 0.5) continue;
        const j = Math.floor(random() * (k + 1));
        const a = at[k] as number;
        const b = at[j] as number;
        const kept = slices[a] as string;
        slices[a] = slices[b] as string;
        slices[b] = kept;
      }
    }
    if (slices.every((slice, i) => slice === list[i]?.slice)) return list;
    return list.map((p, i) => patched(p, { slice: slices[i] as string }));
  });
}
