import { type Accessor, createSignal } from 'solid-js';

/** A sentence in the margin: what happened, and what can be done about it. */
export interface Message {
  readonly id: number;
  readonly kind: 'error' | 'hint';
  readonly text: string;
  readonly action?: { readonly words: string; readonly run: () => void };
}

export interface Messages {
  readonly list: Accessor<readonly Message[]>;
  /** The last thing worth saying aloud that is also seen on the page. */
  readonly live: Accessor<string>;
  readonly say: (text: string) => void;
  readonly hint: (text: string, action?: Message['action']) => void;
  readonly error: (problem: unknown) => void;
  readonly dismiss: (id: number) => void;
}

const most = 3;

/** What the page has to say. The same sentence is never shown twice at once. */
export function createMessages(): Messages {
  const [list, setList] = createSignal<readonly Message[]>([]);
  const [live, setLive] = createSignal('');
  let count = 0;

  const add = (message: Omit<Message, 'id'>): void => {
    count += 1;
    setList((now) =>
      [...now.filter((one) => one.text !== message.text), { ...message, id: count }].slice(-most),
    );
  };
  return {
    list,
    live,
    say: (text) => {
      // The same words twice in a row would not be read again.
      setLive('');
      queueMicrotask(() => setLive(text));
    },
    hint: (text, action) => add({ kind: 'hint', text, action }),
    error: (problem) =>
      add({ kind: 'error', text: problem instanceof Error ? problem.message : String(problem) }),
    dismiss: (id) => setList((now) => now.filter((one) => one.id !== id)),
  };
}
