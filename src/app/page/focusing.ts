/**
 * Whether what takes the focus just now is not to be chosen by that. Tab only passes by. And where a hand
 * presses, its own listeners have chosen, or let go, before the browser moves the focus: after a finger
 * beside a word that is the nearest button, after Ctrl the very word that was let go.
 */
export function watchFocus(): { readonly passing: () => boolean; readonly end: () => void } {
  let tab = false;
  let pressed = false;
  const key = (event: KeyboardEvent) => {
    tab = event.key === 'Tab';
  };
  const pointer = () => {
    tab = false;
  };
  // The focus moves right after this event, for a finger too.
  const press = () => {
    pressed = true;
    setTimeout(() => {
      pressed = false;
    });
  };
  addEventListener('keydown', key, { capture: true });
  addEventListener('pointerdown', pointer, { capture: true });
  addEventListener('mousedown', press, { capture: true });
  return {
    passing: () => tab || pressed,
    end: () => {
      removeEventListener('keydown', key, { capture: true });
      removeEventListener('pointerdown', pointer, { capture: true });
      removeEventListener('mousedown', press, { capture: true });
    },
  };
}
