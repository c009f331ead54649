import { nearestInKey, toConcertPitch } from '../../../shared/hear/pitch/nearest-note.ts';
import { noteName } from '../../../shared/hear/pitch/note.ts';
import { retune, type Tuned } from '../../store/tuning-commands.ts';
import { isAbort } from '../../work/job-client.ts';
import { centWords, counted, opening, semitoneWords } from '../sentence/words.ts';
import type { PageContext } from './context.ts';
import { chosenPads, chosenPlacements } from './selecting.ts';

export interface Bringing {
  /** Whether pads or words of the lane are chosen that could be tuned. */
  readonly possible: () => boolean;
  /** Brings what is chosen to the key's nearest note, in the take's tuning. */
  readonly toKey: () => Promise<void>;
  /** Brings what is chosen from the take's tuning to A4 = 440 Hz; whole semitones stay. */
  readonly toA440: () => void;
}

/** Tuning by what is heard instead of by numbers. */
export function createBringing({
  desk,
  messages,
}: Pick<PageContext, 'desk' | 'messages'>): Bringing {
  const { store } = desk;

  const chosen = (): { tuned: Tuned; slices: readonly string[] } | null => {
    const project = store.project();
    const { selection } = store.session;
    if (!project) return null;
    const placements = chosenPlacements(project, selection);
    const pads = chosenPads(project, selection);
    if (placements.length + pads.length === 0) return null;
    return {
      tuned: {
        places: pads,
        lane: selection.kind === 'placements' ? selection.lane : null,
        placements: placements.map((one) => one.id),
      },
      slices: [...new Set([...placements, ...pads].map((one) => one.slice))],
    };
  };

  return {
    possible: () => chosen() !== null,
    toKey: async () => {
      const what = chosen();
      const heard = store.heard();
      const project = store.project();
      if (!what || !heard || !project) return;
      const slices = project.slices.filter((slice) => what.slices.includes(slice.id));
      const still = () => store.project()?.id === project.id;
      const notes = await desk.hearNotes(slices).catch((error: unknown) => {
        if (still()) messages.error(isAbort(error) ? 'It was broken off; do it again.' : error);
        return null;
      });
      if (!notes || !still()) return;
      const { key, tuning } = heard;
      const found = slices.flatMap((slice, i) => {
        const note = notes[i];
        return note ? [{ id: slice.id, to: nearestInKey(note, key, tuning) }] : [];
      });
      const [first] = found;
      if (!first) {
        const it = slices.length > 1 ? 'these slices' : 'this slice';
        messages.hint(`No single note is heard in ${it}, so nothing was tuned.`);
        return;
      }
      const targets = new Map(found.map(({ id, to }) => [id, to]));
      store.edit(retune('bring to the key', what.tuned, (slice) => targets.get(slice) ?? null));
      const where = key.mode === 'unclear' ? 'the nearest note' : `${key.tonic} ${key.mode}`;
      const left = slices.length - found.length;
      messages.say(
        slices.length === 1
          ? `Brought to ${noteName(first.to.note)}: ${semitoneWords(first.to.semitones)}, ${centWords(first.to.cents)}.`
          : `${opening(counted(found.length, 'slice'))} brought to ${where}${left > 0 ? `; ${counted(left, 'slice')} without a single note stayed` : ''}.`,
      );
    },
    toA440: () => {
      const what = chosen();
      const heard = store.heard();
      if (!what || !heard) return;
      const cents = toConcertPitch(heard.tuning);
      if (cents === null) {
        messages.hint('The tuning of the take can not be heard; set the cents by hand.');
        return;
      }
      store.edit(retune('bring to A440', what.tuned, (_, { semitones }) => ({ semitones, cents })));
      messages.say(
        cents === 0 ? 'The take is at A 440 as it is.' : `Brought to A 440: ${centWords(cents)}.`,
      );
    },
  };
}
