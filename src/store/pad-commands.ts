import type { Pad } from '../../shared/cut/pad.ts';
import { type Command, mapChanged, patched } from './command.ts';
import type { Project } from './project.ts';

/** Edits of the pads. A pad is known by its place; rows 0 to 3 from the top are the four rows of letter keys. */
export interface PadPlace {
  readonly row: number;
  readonly key: number;
}

/** Places in each row, top to bottom: the physical keys Digit1.., KeyQ.., KeyA.., KeyZ... */
export const padsInRow = [10, 10, 9, 7] as const;

/** What a pad says besides where it is and which slice it plays. */
export type PadSettings = Omit<Pad, 'row' | 'key' | 'slice'>;

export const plainPad: PadSettings = {
  semitones: 0,
  cents: 0,
  level: 0,
  direction: 'forwards',
  play: 'through',
  choke: null,
  note: null,
};

export const samePlace = (a: PadPlace, b: PadPlace): boolean => a.row === b.row && a.key === b.key;

/** Every place a pad may be at, in reading order. */
export const padPlaces: readonly PadPlace[] = padsInRow.flatMap((count, row) =>
  Array.from({ length: count }, (_, key) => ({ row, key })),
);

/** The pad at a place, if there is one. */
export function padAt(project: Project, place: PadPlace): Pad | undefined {
  return project.pads.find((pad) => samePlace(pad, place));
}

const valid = (place: PadPlace) =>
  place.row in padsInRow && place.key >= 0 && place.key < (padsInRow[place.row] ?? 0);

function put(pads: readonly Pad[], pad: Pad): readonly Pad[] {
  return [...pads.filter((p) => !samePlace(p, pad)), pad].sort(
    (a, b) => a.row - b.row || a.key - b.key,
  );
}

/** Puts a slice on a pad; what the pad said before (pitch, level ...) stays. */
export function setPad(place: PadPlace, slice: string): Command {
  return {
    label: 'put a slice on a pad',
    apply: (project) => {
      if (!valid(place) || !project.slices.some((s) => s.id === slice)) return project;
      const before = padAt(project, place);
      if (before?.slice === slice) return project;
      const { row, key } = place;
      return { ...project, pads: put(project.pads, { ...plainPad, ...before, row, key, slice }) };
    },
  };
}

const words: Partial<Record<keyof PadSettings, string>> = {
  semitones: "change a pad's pitch",
  cents: "change a pad's tuning",
  formants: 'change what a pitch moves',
  level: "change a pad's level",
  direction: "turn a pad's direction",
  play: 'change how a pad plays',
  choke: 'change a choke group',
  note: 'learn a note',
};

/** Changes what pads say. */
export function changePads(places: readonly PadPlace[], patch: Partial<PadSettings>): Command {
  const [first] = Object.keys(patch) as (keyof PadSettings)[];
  return {
    label: (first && words[first]) ?? 'change a pad',
    apply: (project) =>
      patched(project, {
        pads: mapChanged(project.pads, (pad) =>
          places.some((place) => samePlace(place, pad)) ? patched<Pad>(pad, patch) : pad,
        ),
      }),
  };
}

/** A MIDI note plays this pad from now on, and no other. */
export function learnNote(place: PadPlace, note: number | null): Command {
  return {
    label: note === null ? 'forget a note' : 'learn a note',
    apply: (project) =>
      patched(project, {
        pads: mapChanged(project.pads, (pad) => {
          if (samePlace(pad, place)) return patched(pad, { note });
          return note !== null && pad.note === note ? { ...pad, note: null } : pad;
        }),
      }),
  };
}

/** What is on one pad goes to the other, and back. */
export function swapPads(a: PadPlace, b: PadPlace): Command {
  return {
    label: 'swap pads',
    apply: (project) => {
      if (samePlace(a, b) || !valid(a) || !valid(b)) return project;
      const one = padAt(project, a);
      const two = padAt(project, b);
      if (!one && !two) return project;
      let pads = project.pads.filter((pad) => !samePlace(pad, a) && !samePlace(pad, b));
      if (one) pads = [...put(pads, { ...one, row: b.row, key: b.key })];
      if (two) pads = [...put(pads, { ...two, row: a.row, key: a.key })];
      return { ...project, pads };
    },
  };
}

export function clearPads(places: readonly PadPlace[]): Command {
  return {
    label: places.length === 1 ? 'clear a pad' : 'clear pads',
    apply: (project) => {
      const pads = project.pads.filter((pad) => !places.some((place) => samePlace(place, pad)));
      return pads.length === project.pads.length ? project : { ...project, pads };
    },
  };
}

/** Fills a row with slices from its first place on, as many as it has room for; the rest of the row is cleared. */
export function fillRow(row: number, slices: readonly string[]): Command {
  return {
    label: 'fill a row',
    apply: (project) => {
      const room = padsInRow[row];
      if (room === undefined) return project;
      const known = new Set(project.slices.map((slice) => slice.id));
      const fresh = slices
        .filter((slice) => known.has(slice))
        .slice(0, room)
        .map((slice, key): Pad => ({ ...plainPad, row, key, slice }));
      const before = project.pads.filter((pad) => pad.row === row);
      const same =
        before.length === fresh.length &&
        before.every((pad, i) => patched(pad, fresh[i] as Pad) === pad);
      if (same) return project;
      const rest = project.pads.filter((pad) => pad.row !== row);
      return {
        ...project,
        pads: [...rest, ...fresh].sort((a, b) => a.row - b.row || a.key - b.key),
      };
    },
  };
}
