import { type Accessor, createEffect, createSignal, on, onCleanup } from 'solid-js';

/** Whether this window may write a project: two that did would undo each other's work. */
export type Hold = 'asking' | 'mine' | 'elsewhere';

/** A window that closes gives its hold back in less than this, in milliseconds. */
const patience = 1500;

/**
 * Holds the open project for this window, by a lock that the browser gives back when the window ends.
 *
 * @param regained told when another window let go of it: what is kept is newer than what is shown here
 */
export function createHold(id: Accessor<string | null>, regained: () => void): Accessor<Hold> {
  const [hold, setHold] = createSignal<Hold>('asking');
  let release: () => void = () => {};

  createEffect(
    on(id, (project) => {
      release();
      if (project === null) return;
      // A browser without locks is one in which this cannot be told.
      if (!globalThis.navigator?.locks) return void setHold('mine');
      setHold('asking');
      const wish = new AbortController();
      const done = new Promise<void>((resolve) => {
        release = () => {
          clearTimeout(timer);
          wish.abort();
          resolve();
        };
      });
      const timer = setTimeout(() => setHold('elsewhere'), patience);
      navigator.locks
        .request(`unclicked ${project}`, { signal: wish.signal }, () => {
          clearTimeout(timer);
          const late = hold() === 'elsewhere';
          setHold('mine');
          if (late) regained();
          return done;
        })
        // Given up before it was granted.
        .catch(() => {});
    }),
  );
  onCleanup(() => release());
  return hold;
}
