import { createSignal, For, onCleanup, onMount, Show } from 'solid-js';
import { usePage } from '../page/context.ts';
import { makeScrub } from './scrub.ts';

export interface Choice {
  readonly value: string;
  readonly words: string;
}

export interface ChoiceValueProps {
  readonly name: string;
  /** null: the selected things differ. */
  readonly value: string | null;
  readonly choices: readonly Choice[];
  readonly change: (value: string) => void;
  readonly disabled?: boolean;
  /** The stop that follows, which must not stand alone at the start of a line. */
  readonly after?: string;
}

/** What stands in the list where the selected things differ; an empty value is a choice like others. */
const different = 'different';

/** A choice in a sentence: a true list of choices underneath, also dragged sideways. */
export function ChoiceValue(props: ChoiceValueProps) {
  const { holding } = usePage();
  let select!: HTMLSelectElement;
  /** What the hand is at while it drags: it is chosen where the hand lets go, as one step. */
  const [held, setHeld] = createSignal<string | null>(null);
  const now = () => held() ?? props.value;
  const shown = () => {
    const value = now();
    if (value === null) return different;
    return props.choices.find((choice) => choice.value === value)?.words ?? value;
  };

  onMount(() => {
    let start = 0;
    onCleanup(
      makeScrub(select, holding, {
        may: () => !props.disabled,
        begin: () => {
          start = props.choices.findIndex((choice) => choice.value === props.value);
        },
        steps: (count) => {
          // A choice needs a longer way than a number: four steps of the hand for each.
          const index = Math.max(0, start) + Math.trunc(count / 4);
          const choice = props.choices[Math.min(props.choices.length - 1, Math.max(0, index))];
          setHeld(choice?.value ?? null);
        },
        end: (kept) => {
          const value = held();
          setHeld(null);
          if (kept && value !== null && value !== props.value) props.change(value);
        },
        press: () => {
          select.focus();
          // Not in every browser yet; where it is missing, arrows and letters choose.
          try {
            select.showPicker();
          } catch {}
        },
      }),
    );
  });

  return (
    <span class="kept">
      <span class="value choose">
        <span class="ghost" aria-hidden="true">
          {shown()}
        </span>
        <select
          ref={select}
          aria-label={props.name}
          disabled={props.disabled}
          value={now() ?? different}
          onKeyDown={(event) => {
            if (event.key !== 'Escape') return;
            // As out of a number: the letters are the pads' again.
            event.stopPropagation();
            select.blur();
          }}
          onChange={(event) => {
            if (event.currentTarget.value !== different) props.change(event.currentTarget.value);
          }}
        >
          <Show when={props.value === null}>
            <option value={different} selected>
              {different}
            </option>
          </Show>
          <For each={props.choices}>
            {(choice) => (
              <option value={choice.value} selected={choice.value === now()}>
                {choice.words}
              </option>
            )}
          </For>
        </select>
      </span>
      {props.after}
    </span>
  );
}
