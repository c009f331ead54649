import { Show } from 'solid-js';
import { createBringing } from '../page/bring-to-pitch.ts';
import { usePage } from '../page/context.ts';

/** Tuning by ear, done by the tool: for pads and words of the lane. */
export function TuningDeeds() {
  const bringing = createBringing(usePage());
  return (
    <Show when={bringing.possible()}>
      <button
        type="button"
        class="word deed"
        title="To the key’s nearest note, in the take’s tuning"
        onClick={() => void bringing.toKey()}
      >
        bring to the key
      </button>
      <button
        type="button"
        class="word deed"
        title="From the take’s tuning to A4 = 440 Hz"
        onClick={bringing.toA440}
      >
        to A 440
      </button>
    </Show>
  );
}
