import { createMidiIn, type MidiIn } from '../../sound/midi-in.ts';
import { createPadKeys } from '../../sound/pad-keys.ts';
import { type PadPlace, padAt } from '../../store/pad-commands.ts';
import type { PageContext } from '../page/context.ts';
import { padOfKey } from './keys.ts';

/** Pads under fingers, keys and MIDI notes. `by` tells one finger, key or note from another. */
export interface Playing {
  readonly press: (place: PadPlace, by: string, timeStamp: number, velocity?: number) => void;
  readonly release: (by: string) => void;
  /** While somebody taps along, every MIDI note is a tap and no pad, also one that a pad has learned; null ends it. */
  readonly takeNotes: (tap: ((timeStamp: number) => void) | null) => void;
}

type Parts = Pick<PageContext, 'desk' | 'sound' | 'overlay' | 'tapping'>;

/** Plays pads from fingers and from the physical keys, and from MIDI. */
export function createPlaying(page: Parts): { readonly playing: Playing; readonly midi: MidiIn } {
  const { desk, sound } = page;
  const held = new Map<string, PadPlace>();
  let tap: ((timeStamp: number) => void) | null = null;

  const press: Playing['press'] = (place, by, timeStamp, velocity = 1) => {
    const project = desk.store.project();
    const pad = project && padAt(project, place);
    const slice = pad && project.slices.find((one) => one.id === pad.slice);
    void sound.wake();
    if (!pad || !slice) return;
    held.set(by, place);
    sound.pressPad(pad, slice, velocity, timeStamp);
  };
  const release: Playing['release'] = (by) => {
    const place = held.get(by);
    if (!place) return;
    held.delete(by);
    sound.releasePad(place);
  };

  createPadKeys({
    placeOf: padOfKey,
    press: (place, timeStamp) => press(place, `k${place.row} ${place.key}`, timeStamp),
    release: (place) => release(`k${place.row} ${place.key}`),
    active: () => page.overlay() === null && !page.tapping(),
  });
  const midi = createMidiIn({
    press: (note, velocity, timeStamp) => {
      if (tap) return tap(timeStamp);
      const pad = desk.store.project()?.pads.find((one) => one.note === note);
      if (pad) press(pad, `m${note}`, timeStamp, velocity);
    },
    release: (note) => release(`m${note}`),
  });
  const takeNotes: Playing['takeNotes'] = (next) => {
    tap = next;
  };
  return { playing: { press, release, takeNotes }, midi };
}
