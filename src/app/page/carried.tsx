import { Show } from 'solid-js';
import { usePage } from './context.ts';
import { longName } from './naming.ts';

/** The words under the hand on their way. */
export function Carried() {
  const { carrying, names } = usePage();
  return (
    <Show when={carrying.carried()}>
      {(now) => (
        <p
          class="carried"
          aria-hidden="true"
          style={{
            transform: `translate(${Math.min(now().x + 12, window.innerWidth - 180)}px, ${now().y + 12}px)`,
          }}
        >
          {now().slices.length === 1
            ? longName(names().get(now().slices[0] ?? ''))
            : `${now().slices.length} slices`}
        </p>
      )}
    </Show>
  );
}
