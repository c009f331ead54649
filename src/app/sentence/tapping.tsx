import { createEffect, createSignal, onCleanup, onMount, Show } from 'solid-js';
import { makeTapAlong } from '../../sound/tap-along.ts';
import { usePage } from '../page/context.ts';
import { counted, opening } from './words.ts';

/**
 * Tapping along: the take plays, and any key, the wide word below or a MIDI note sets a beat. Lives as
 * long as it is on the page; one undo step for the whole run.
 */
export function Tapping() {
  const { desk, sound, setTapping, messages, actions, playing, midi } = usePage();
  const [count, setCount] = createSignal(0);
  const run = makeTapAlong(sound, desk.store);
  let kept = true;

  const tap = (timeStamp: number) => {
    if (run.tap(timeStamp) === null) messages.say('The take does not play.');
    else setCount((n) => n + 1);
  };
  const key = (event: KeyboardEvent) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.key === 'Tab') return;
    event.preventDefault();
    event.stopImmediatePropagation();
    if (event.repeat) return;
    if (event.key === 'Escape') {
      kept = false;
      setTapping(false);
    } else if (event.key === 'Enter') setTapping(false);
    else if (!event.key.startsWith('Shift')) tap(event.timeStamp);
  };

  onMount(() => {
    window.addEventListener('keydown', key, { capture: true });
    playing.takeNotes(tap);
    if (sound.playing() !== 'take') actions.playTake();
  });
  let started = false;
  createEffect(() => {
    if (sound.playing() === 'take') started = true;
    else if (started) setTapping(false);
  });
  onCleanup(() => {
    window.removeEventListener('keydown', key, { capture: true });
    playing.takeNotes(null);
    if (kept) run.done();
    else run.cancel();
    if (sound.playing() === 'take') actions.stop();
    if (kept && count() > 0) messages.say(`${opening(counted(count(), 'beat'))} tapped.`);
  });

  return (
    <>
      <p class="said">
        Tap the beat along with any key, {midi.state() === 'open' ? 'any MIDI note, ' : ''}or here.{' '}
        <Show when={count() > 0}>{opening(counted(count(), 'beat'))} so far.</Show>
      </p>
      <div class="deeds">
        <button
          type="button"
          class="press tap"
          onPointerDown={(event) => tap(event.timeStamp)}
          onClick={(event) => event.detail === 0 && tap(event.timeStamp)}
        >
          tap
        </button>
        <button type="button" class="word deed main" onClick={() => setTapping(false)}>
          done
        </button>
        <Show when={midi.state() === 'not asked'}>
          <button type="button" class="word deed" onClick={() => void midi.open()}>
            tap by MIDI
          </button>
        </Show>
        <button
          type="button"
          class="word deed"
          onClick={() => {
            kept = false;
            setTapping(false);
          }}
        >
          leave as it was
        </button>
      </div>
    </>
  );
}
