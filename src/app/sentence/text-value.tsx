import { createSignal } from 'solid-js';

export interface TextValueProps {
  /** What the value is, for a screen reader: "artist". */
  readonly name: string;
  readonly value: string;
  /** What stands there while nothing is written: "nobody named". */
  readonly empty: string;
  readonly longest: number;
  readonly change: (value: string) => void;
  /** What is wrong with a text, in a sentence; null: nothing. */
  readonly check?: (value: string) => string | null;
  readonly after?: string;
}

/** Words in a sentence that are written over; Escape leaves them as they were. What can't be stays unsaid, with the reason. */
export function TextValue(props: TextValueProps) {
  const [typed, setTyped] = createSignal<string | null>(null);
  const [problem, setProblem] = createSignal<string | null>(null);
  const text = () => typed() ?? props.value;

  const keep = (): boolean => {
    const now = typed();
    if (now === null) return true;
    const wrong = now.trim() === '' ? null : (props.check?.(now) ?? null);
    setProblem(wrong);
    if (wrong !== null) return false;
    setTyped(null);
    if (now !== props.value) props.change(now);
    return true;
  };
  const key = (event: KeyboardEvent & { readonly currentTarget: HTMLInputElement }) => {
    // Enter is the input method's while it composes.
    if (event.isComposing) return;
    if (event.key === 'Enter') {
      if (keep()) event.currentTarget.select();
    } else if (event.key === 'Escape' && typed() !== null) {
      setTyped(null);
      setProblem(null);
    } else return;
    event.preventDefault();
    event.stopPropagation();
  };

  return (
    <>
      <span class="value text" classList={{ empty: text() === '' }}>
        <span class="ghost" dir="auto" aria-hidden="true">
          {text() || props.empty}
        </span>
        <input
          type="text"
          dir="auto"
          autocomplete="off"
          spellcheck={false}
          size={1}
          maxLength={props.longest}
          aria-label={props.name}
          aria-invalid={problem() !== null}
          placeholder={props.empty}
          value={text()}
          onInput={(event) => setTyped(event.currentTarget.value)}
          onBlur={keep}
          onKeyDown={key}
        />
      </span>
      {props.after}
      <span class="wrong" role="alert">
        {problem()}
      </span>
    </>
  );
}
