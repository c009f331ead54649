import { createEffect, createSignal, on, onCleanup, onMount } from 'solid-js';
import { nearestBeat } from '../../../shared/hear/beats/state.ts';
import type { Seconds } from '../../../shared/math/units.ts';
import type { PageContext } from '../page/context.ts';

export interface BeatFocus {
  /** The beat that a key means: the one the focus is on its way to, else the one that has it. */
  readonly meant: (focused: Seconds) => Seconds;
  /** Brings the focus to a beat, as soon as it is there. */
  readonly bring: (time: Seconds) => void;
  /** Whether it is the focus that comes back just now, which chooses nothing. */
  readonly returning: () => boolean;
}

/**
 * Keeps hold of a beat while beats come and go. Each inference moves most of them a little and so puts
 * other buttons in their place. Without this the focus would be lost in the middle of what the keys do,
 * and a key pressed meanwhile would mean a beat that is no more.
 *
 * @param area where the beats' buttons are.
 * @param look brings a moment into view.
 */
export function makeBeatFocus(
  { desk }: PageContext,
  area: () => HTMLElement,
  look: (time: Seconds) => void,
): BeatFocus {
  const [wanted, want] = createSignal<Seconds | null>(null);
  /** The beat that had the focus last, if nothing else took it. */
  let held: Seconds | null = null;
  let returning = false;

  const settle = () => {
    const time = wanted() ?? held;
    const here = document.activeElement as HTMLElement | null;
    // Whoever has gone elsewhere meanwhile is not fetched back.
    const elsewhere = here !== null && here !== document.body && here.dataset.beat === undefined;
    if (time === null || elsewhere) return void want(null);
    const buttons = [...area().querySelectorAll<HTMLElement>('[data-beat]')];
    const times = buttons.map((button) => Number(button.dataset.beat));
    const nearest = nearestBeat(times, time);
    const button = buttons[nearest];
    if (!button) return;
    // One that was set is there only once the beats are inferred again.
    if (desk.inferring() && Math.abs(times[nearest] - time) > 1e-6) return;
    returning = true;
    button.focus();
    returning = false;
    want(null);
  };
  createEffect(
    on([wanted, () => desk.store.heard()?.beats, desk.inferring], () => queueMicrotask(settle)),
  );

  onMount(() => {
    const within = area();
    const came = ({ target }: FocusEvent) => {
      const { beat } = (target as HTMLElement).dataset;
      held = beat === undefined ? null : Number(beat);
    };
    // A button that went with its beat has not let go of it.
    const left = ({ target }: FocusEvent) =>
      queueMicrotask(() => {
        if ((target as HTMLElement).isConnected && target !== document.activeElement) held = null;
      });
    within.addEventListener('focusin', came);
    within.addEventListener('focusout', left);
    onCleanup(() => {
      within.removeEventListener('focusin', came);
      within.removeEventListener('focusout', left);
    });
  });

  return {
    returning: () => returning,
    meant: (focused) => wanted() ?? focused,
    bring: (time) => {
      look(time);
      want(time);
    },
  };
}
