/** Tells whether what takes the focus is to be chosen by that. */
export interface Focusing {
  readonly passing: () => boolean;
  /** Does something that gives the focus back to where it was, which chooses nothing. */
  readonly giveBack: (run: () => void) => void;
  readonly end: () => void;
}

/**
 * Whether what takes the focus just now is not to be chosen by that. Tab only passes by. And where a hand
 * presses, its own listeners have chosen, or let go, before the browser moves the focus: after a finger
 * beside a word that is the nearest button, after Ctrl the very word that was let go. Nor does the focus choose
 * that only comes back, with the window or from a leaf.
 */
export function watchFocus(): Focusing {
  let tab = false;
  let moved = false;
  const key = (event: KeyboardEvent) => {
    tab = event.key === 'Tab';
  };
  const pointer = () => {
    tab = false;
  };
  // The focus moves right after these events, for a finger too.
  const soon = () => {
    moved = true;
    setTimeout(() => {
      moved = false;
    });
  };
  const back = (event: FocusEvent) => {
    if (event.target === window) soon();
  };
  addEventListener('keydown', key, { capture: true });
  addEventListener('pointerdown', pointer, { capture: true });
  addEventListener('mousedown', soon, { capture: true });
  addEventListener('focus', back);
  return {
    passing: () => tab || moved,
    giveBack: (run) => {
      soon();
      run();
    },
    end: () => {
      removeEventListener('keydown', key, { capture: true });
      removeEventListener('pointerdown', pointer, { capture: true });
      removeEventListener('mousedown', soon, { capture: true });
      removeEventListener('focus', back);
    },
  };
}
