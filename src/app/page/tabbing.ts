/** Whether the last thing that came in was Tab: what takes the focus then was only passed by, not chosen. */
export function watchTab(): { readonly passing: () => boolean; readonly end: () => void } {
  let passing = false;
  const look = (event: Event) => {
    passing = event instanceof KeyboardEvent && event.key === 'Tab';
  };
  const kinds = ['keydown', 'pointerdown'] as const;
  for (const kind of kinds) addEventListener(kind, look, { capture: true });
  return {
    passing: () => passing,
    end: () => {
      for (const kind of kinds) removeEventListener(kind, look, { capture: true });
    },
  };
}
