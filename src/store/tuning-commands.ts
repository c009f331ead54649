import type { PitchShift } from '../../shared/hear/pitch/nearest-note.ts';
import { type Command, mapChanged, patched } from './command.ts';
import { type PadPlace, samePlace } from './pad-commands.ts';

/** What is tuned: pads by their places, words of a lane by their ids. */
export interface Tuned {
  readonly places: readonly PadPlace[];
  readonly lane: string | null;
  readonly placements: readonly string[];
}

/** No pad or placement is moved farther. */
const farthest = 24;

/** Sets the pitch of each by what its slice wants; null leaves it as it is. */
export function retune(
  label: string,
  { places, lane, placements }: Tuned,
  wish: (slice: string, now: PitchShift) => PitchShift | null,
): Command {
  const tuned = <T extends PitchShift & { readonly slice: string }>(item: T): T => {
    const shift = wish(item.slice, item);
    if (!shift || Math.abs(shift.semitones) > farthest) return item;
    const { semitones, cents } = shift;
    return patched<T>(item, { semitones, cents } as Partial<T>);
  };
  return {
    label,
    apply: (project) =>
      patched(project, {
        pads: mapChanged(project.pads, (pad) =>
          places.some((place) => samePlace(place, pad)) ? tuned(pad) : pad,
        ),
        lanes: mapChanged(project.lanes, (one) => {
          if (one.id !== lane || one.source.kind !== 'flip') return one;
          const moved = mapChanged(one.source.placements, (placement) =>
            placements.includes(placement.id) ? tuned(placement) : placement,
          );
          return moved === one.source.placements
            ? one
            : { ...one, source: { kind: 'flip', placements: moved } };
        }),
      }),
  };
}
