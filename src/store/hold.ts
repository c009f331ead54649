import { type Accessor, createEffect, createSignal, on, onCleanup } from 'solid-js';

/** Whether this window may write a project: two that did would undo each other's work. */
export type Hold = 'asking' | 'mine' | 'elsewhere';

/** A window that closes gives its hold back in less than this, and one that is awake answers, in milliseconds. */
const patience = 1500;

export interface HoldParts {
  /** Puts away all that is under way, before another window takes over. */
  readonly give: () => Promise<unknown>;
  /** Another window let go of it, or it was taken over from there: what is kept may be newer than what is shown here. */
  readonly gained: () => void;
}

/** What windows say to each other: that one wishes to have a project, and that the other has put it away. */
interface Word {
  readonly say: 'wish' | 'given';
  readonly project: string;
}

/**
 * Holds the open project for this window, by a lock that the browser gives back when the window ends.
 * `take` has it from the window that holds it, once that has put away its work; one that sleeps is not waited for.
 */
export function createHold(
  id: Accessor<string | null>,
  parts: HoldParts,
): { readonly hold: Accessor<Hold>; readonly take: () => void } {
  const [hold, setHold] = createSignal<Hold>('asking');
  const talk = globalThis.BroadcastChannel ? new BroadcastChannel('unclicked hold') : null;
  let release: () => void = () => {};
  let take: () => void = () => {};
  let hear: (word: Word) => void = () => {};

  createEffect(
    on(id, (project) => {
      release();
      take = () => {};
      hear = () => {};
      if (project === null) return void setHold('asking');
      // A browser without locks is one in which this cannot be told.
      if (!globalThis.navigator?.locks) return void setHold('mine');
      setHold('asking');
      let over = false;
      let wish = new AbortController();
      let letGo: () => void = () => {};
      let timer: ReturnType<typeof setTimeout> | undefined;
      const wait = (run: () => void) => {
        clearTimeout(timer);
        timer = setTimeout(run, patience);
      };
      const say = (word: Word['say']) => talk?.postMessage({ say: word, project } satisfies Word);

      const ask = (how: LockOptions) => {
        const withdrawn = how.signal;
        navigator.locks
          .request(`unclicked ${project}`, how, () => {
            if (over) return;
            clearTimeout(timer);
            const late = hold() === 'elsewhere';
            setHold('mine');
            if (late) parts.gained();
            return new Promise<void>((resolve) => {
              letGo = resolve;
            });
          })
          .catch(() => {
            // Withdrawn before it was granted, or taken by another window: this one waits its turn again.
            if (over || withdrawn?.aborted) return;
            clearTimeout(timer);
            setHold('elsewhere');
            queue();
          });
      };
      const queue = () => {
        wish = new AbortController();
        ask({ signal: wish.signal });
      };
      const seize = () => {
        clearTimeout(timer);
        if (hold() !== 'elsewhere') return;
        wish.abort();
        ask({ steal: true });
      };

      let taking = false;
      take = () => {
        if (hold() !== 'elsewhere') return;
        taking = true;
        say('wish');
        wait(seize);
      };
      hear = (word) => {
        if (word.project !== project) return;
        if (word.say === 'given' && taking) {
          taking = false;
          seize();
        }
        if (word.say === 'wish' && hold() === 'mine') void give();
      };
      const give = async () => {
        await parts.give().catch(() => {});
        if (over || hold() !== 'mine') return;
        setHold('elsewhere');
        say('given');
        // Whoever wished for it may have gone meanwhile.
        wait(() => {
          setHold('mine');
          parts.gained();
        });
      };
      release = () => {
        over = true;
        clearTimeout(timer);
        wish.abort();
        letGo();
      };
      wait(() => setHold('elsewhere'));
      queue();
    }),
  );
  talk?.addEventListener('message', ({ data }: MessageEvent<Word>) => hear(data));
  onCleanup(() => {
    release();
    talk?.close();
  });
  return { hold, take: () => take() };
}
