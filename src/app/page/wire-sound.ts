import { createEffect, createMemo, on, onCleanup } from 'solid-js';
import type { SoundState } from '../../sound/sound.ts';
import type { PageContext } from './context.ts';

/** Why nothing is heard, and what to do. */
const silences: Partial<Record<SoundState, string>> = {
  'stopped by the system': 'The system has taken the sound away. Press play to have it back.',
  'no way out':
    'No sound comes out: connect a loudspeaker or headphones, or free them elsewhere, and press play again.',
  failed: 'This browser could not start its sound. Reload the page; nothing is lost.',
};

/** Hands over to the sound what it plays from: the take, the rendered loop, level and stems. */
export function wireSound({ desk, sound, messages, lane, slices: all }: PageContext): void {
  const { store } = desk;
  // Taken away while nothing plays, it is back with the next gesture before anyone misses it.
  createEffect(
    on(sound.state, (state) => {
      const why = silences[state];
      if (why) {
        if (state !== 'stopped by the system' || sound.playing() !== 'nothing') messages.error(why);
      } else if (state === 'running') {
        const told = Object.values(silences);
        for (const { id, text } of messages.list()) if (told.includes(text)) messages.dismiss(id);
      }
    }),
  );
  createEffect(() => sound.setTake(desk.sound()));
  createEffect(() => sound.setOnsets(store.heard()?.onsets ?? []));
  createEffect(
    on([desk.loop, desk.rendering], ([loop, awaited]) =>
      sound.setLoop(
        loop && {
          mix: loop.mix,
          stems: loop.stems,
          lane: loop.lane,
          loudness: loop.loudness.integrated,
          original: {
            from: loop.original.from,
            until: loop.original.until,
            loudness: loop.original.loudness.integrated,
          },
        },
        awaited,
      ),
    ),
  );
  // What is played in is played into the lane in view.
  const inView = createMemo(() => lane()?.id);
  const endPass = () => {
    if (sound.recording() !== 'no') sound.stop();
  };
  createEffect(on(inView, endPass, { defer: true }));
  desk.beforeGiving(endPass);
  createEffect(() => sound.setStems([...store.session.muted], [...store.session.solo]));

  // The click follows the beats as they are corrected.
  createEffect(() => {
    const beats = store.heard()?.beats ?? [];
    if (sound.takeClick()) sound.setTakeClick(true, beats);
  });

  // A pad whose pitch is moved sounds from its own rendering as soon as that is there.
  const pads = createMemo(() => store.project()?.pads ?? []);
  createEffect(
    on([pads, all, desk.sound], ([pads, slices]) => {
      let stale = false;
      onCleanup(() => {
        stale = true;
      });
      const render = async () => {
        for (const pad of pads) {
          const slice = slices.find((one) => one.id === pad.slice);
          if (!slice || stale) continue;
          if (pad.semitones === 0 && pad.cents === 0) {
            sound.setPadSound(pad, slice, null);
            continue;
          }
          const { semitones, cents, formants = 'moved' } = pad;
          const moved = await desk.pitchSlice(slice, { semitones, cents, formants });
          if (moved && !stale) sound.setPadSound(pad, slice, moved);
        }
      };
      void render();
    }),
  );
}
