import { createSignal, onCleanup, onMount } from 'solid-js';
import { usePage } from '../page/context.ts';
import { makeScrub } from './scrub.ts';
import { readNumber } from './words.ts';

/** A change as it happens: `gather` while it is under way, `step` when it stands, `back` to undo it. */
export type ChangeKind = 'gather' | 'step' | 'back';

export interface NumberValueProps {
  /** What the value is, for a screen reader: "tempo". */
  readonly name: string;
  /** null: the selected things differ. */
  readonly value: number | null;
  readonly min: number;
  readonly max: number;
  readonly step: number;
  /** How far Page up and Page down go; ten steps when left out. */
  readonly stride?: number;
  /** The value in words with its unit: "84 bpm". */
  readonly show: (value: number) => string;
  /** A typed text as a value; the first number in it when left out. */
  readonly read?: (text: string) => number | null;
  readonly change: (value: number, kind: ChangeKind) => void;
  readonly disabled?: boolean;
  /** The stop that follows, which must not stand alone at the start of a line. */
  readonly after?: string;
}

/** A number in a sentence: typed, stepped by arrows, dragged sideways; Escape leaves it as it was. */
export function NumberValue(props: NumberValueProps) {
  const { holding } = usePage();
  let input!: HTMLInputElement;
  const [typed, setTyped] = createSignal<string | null>(null);
  const shown = () => (props.value === null ? 'different' : props.show(props.value));
  const text = () => typed() ?? shown();

  // Steps of a tenth must not leave a tail of binary digits behind; a typed half stays a half.
  const held = (value: number): number =>
    Number(Math.min(props.max, Math.max(props.min, value)).toFixed(6));

  /** What is typed, as a value; null where nothing is, or none. */
  const meant = (): number | null => {
    const text = typed();
    const value = text === null ? null : (props.read ?? readNumber)(text);
    return value !== null && Number.isFinite(value) ? held(value) : null;
  };
  const keep = (): void => {
    const next = meant();
    setTyped(null);
    if (next !== null && next !== props.value) props.change(next, 'step');
  };

  const nudge = (by: number): void => {
    const from = meant() ?? props.value ?? Math.max(props.min, Math.min(props.max, 0));
    setTyped(null);
    const next = held(from + by);
    if (next !== props.value) props.change(next, 'step');
    queueMicrotask(() => input.select());
  };

  const key = (event: KeyboardEvent): void => {
    // Enter and the arrows are the input method's while it composes.
    if (event.isComposing) return;
    const stride = props.stride ?? props.step * 10;
    const by: Record<string, number> = {
      ArrowUp: event.shiftKey ? stride : props.step,
      ArrowDown: event.shiftKey ? -stride : -props.step,
      PageUp: stride,
      PageDown: -stride,
    };
    if (event.key in by) nudge(by[event.key] as number);
    else if (event.key === 'Enter') {
      keep();
      input.select();
    } else if (event.key === 'Escape') {
      setTyped(null);
      input.blur();
    } else return;
    event.preventDefault();
    event.stopPropagation();
  };

  // What is pressed next may be chosen before the focus goes: what is typed is for what was chosen till then.
  const elsewhere = (event: PointerEvent): void => {
    if (event.target !== input) keep();
  };

  onMount(() => {
    window.addEventListener('pointerdown', elsewhere, { capture: true });
    onCleanup(() => window.removeEventListener('pointerdown', elsewhere, { capture: true }));
    let start = 0;
    onCleanup(
      makeScrub(input, holding, {
        may: () => !props.disabled && document.activeElement !== input,
        begin: () => {
          start = props.value ?? 0;
        },
        steps: (count) => props.change(held(start + count * props.step), 'gather'),
        end: (kept) => {
          if (kept) props.change(props.value ?? start, 'step');
          else props.change(start, 'back');
        },
        press: () => {
          input.focus();
          input.select();
        },
      }),
    );
  });

  return (
    <span class="kept">
      <span class="value">
        <span class="ghost" aria-hidden="true">
          {text()}
        </span>
        <input
          ref={input}
          type="text"
          role="spinbutton"
          inputmode="decimal"
          autocomplete="off"
          spellcheck={false}
          size={1}
          disabled={props.disabled}
          aria-label={props.name}
          aria-valuenow={props.value ?? undefined}
          aria-valuemin={props.min}
          aria-valuemax={props.max}
          aria-valuetext={shown()}
          value={text()}
          onInput={(event) => setTyped(event.currentTarget.value)}
          onFocus={() => input.select()}
          onBlur={keep}
          onKeyDown={key}
        />
      </span>
      {props.after}
    </span>
  );
}
