import { createEffect, onCleanup, Show } from 'solid-js';
import { usePage } from '../page/context.ts';
import { NumberValue } from '../sentence/number-value.tsx';
import { figure } from '../sentence/words.ts';

/**
 * How late taps come: typed, or measured once by tapping along with clicks, on any key, on the word
 * itself or on a MIDI note, since each comes as late as it will when beats are tapped.
 */
export function Latency() {
  const { sound, settings, changeSettings, playing, messages } = usePage();
  const testing = () => sound.playing() === 'latency test';
  const tap = (timeStamp: number) => sound.tapLatency(timeStamp);

  // Taken at the coming down of a key: a button would be pressed only as Space comes up.
  const key = (event: KeyboardEvent) => {
    if (!testing() || event.key === 'Escape' || event.key === 'Tab') return;
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    if (!event.repeat) tap(event.timeStamp);
  };
  window.addEventListener('keydown', key, { capture: true });
  let tested = false;
  createEffect(() => {
    if (testing()) {
      tested = true;
      playing.takeNotes(tap);
    } else if (tested) {
      tested = false;
      playing.takeNotes(null);
      const ms = sound.latencyTest()?.latency;
      messages.say(
        ms === null || ms === undefined
          ? 'The taps lay too far apart to tell; try again.'
          : `Taps come ${figure(ms * 1000)} milliseconds late.`,
      );
    }
  });
  onCleanup(() => {
    window.removeEventListener('keydown', key, { capture: true });
    playing.takeNotes(null);
    if (testing()) sound.stop();
  });

  const words = () => {
    const test = sound.latencyTest();
    if (!testing() || !test) return 'measure it';
    return test.taps < test.wanted
      ? `tap here with the clicks: ${test.taps} of ${test.wanted}`
      : 'go on tapping: they lie too far apart yet';
  };

  return (
    <p class="leaf-line">
      Taps are taken{' '}
      <NumberValue
        name="latency of taps"
        value={Math.round((settings.latency ?? 0) * 1000)}
        min={-200}
        max={1000}
        step={1}
        show={(ms) => `${figure(ms)} ms`}
        change={(ms) => changeSettings({ latency: ms / 1000 })}
      />{' '}
      earlier than they come.{' '}
      <button
        type="button"
        class="press"
        onClick={(event) => {
          if (!testing()) void sound.testLatency();
          // A press by a screen reader; fingers, mice and keys were heard at their coming down.
          else if (event.detail === 0) tap(event.timeStamp);
        }}
        onPointerDown={(event) => {
          if (testing()) tap(event.timeStamp);
        }}
      >
        {words()}
      </button>
      <Show when={testing()}>
        <span class="note"> or on any key or MIDI note</span>
      </Show>
    </p>
  );
}
