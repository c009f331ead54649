import { onCleanup } from 'solid-js';

/** What hands hold just now, so that Escape can leave it as it was, wherever the focus is. */
export interface Holding {
  /** Something is taken hold of; `leave` puts it back. The result is to be called when it is let go. */
  readonly take: (leave: () => void) => () => void;
}

/** Whether a mouse that moves has no button down any more: it went up where the page was not told of it, behind a menu or in another window. */
export const wentUpUnseen = (event: PointerEvent): boolean =>
  event.pointerType === 'mouse' && (event.buttons & 1) === 0;

/** Escape is for what is held, if anything is, and then for nothing else. */
export function createHolding(): Holding {
  const held = new Set<() => void>();
  const key = (event: KeyboardEvent) => {
    if (event.key !== 'Escape' || held.size === 0) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    for (const leave of [...held]) leave();
  };
  window.addEventListener('keydown', key, { capture: true });
  onCleanup(() => window.removeEventListener('keydown', key, { capture: true }));
  return {
    take: (leave) => {
      held.add(leave);
      return () => held.delete(leave);
    },
  };
}
