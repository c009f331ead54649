/** The closest and the widest setting of the lines, in seconds that the width holds. */
const closest = 0.5;
const widest = 60;

/** A span within what is legible. */
export const heldSpan = (seconds: number): number => Math.min(widest, Math.max(closest, seconds));

export interface ZoomingOptions {
  readonly span: () => number;
  readonly setSpan: (seconds: number) => void;
  /** Two fingers are down: whatever one of them held is let go. */
  readonly pinching: () => void;
}

/** Ctrl with the wheel, a pinch on a pad or on a screen: lines closer or wider. Returns its own cleanup. */
export function makeZooming(element: HTMLElement, options: ZoomingOptions): () => void {
  const set = (seconds: number) => options.setSpan(heldSpan(seconds));
  const wheel = (event: WheelEvent) => {
    if (!event.ctrlKey && !event.metaKey) return;
    event.preventDefault();
    set(options.span() * Math.exp(event.deltaY * 0.0025));
  };

  let pinch: { distance: number; span: number } | null = null;
  const apart = ({ touches }: TouchEvent) =>
    Math.hypot(
      (touches[0]?.clientX ?? 0) - (touches[1]?.clientX ?? 0),
      (touches[0]?.clientY ?? 0) - (touches[1]?.clientY ?? 0),
    );
  const start = (event: TouchEvent) => {
    if (event.touches.length !== 2) return;
    options.pinching();
    pinch = { distance: Math.max(20, apart(event)), span: options.span() };
  };
  const move = (event: TouchEvent) => {
    // What the browser scrolls already is not zoomed as well: it would do both, and jump.
    if (!pinch || event.touches.length !== 2 || !event.cancelable) return;
    event.preventDefault();
    set((pinch.span * pinch.distance) / Math.max(20, apart(event)));
  };
  const end = (event: TouchEvent) => {
    if (event.touches.length < 2) pinch = null;
  };

  element.addEventListener('wheel', wheel, { passive: false });
  element.addEventListener('touchstart', start, { passive: true });
  element.addEventListener('touchmove', move, { passive: false });
  element.addEventListener('touchend', end);
  element.addEventListener('touchcancel', end);
  return () => {
    element.removeEventListener('wheel', wheel);
    element.removeEventListener('touchstart', start);
    element.removeEventListener('touchmove', move);
    element.removeEventListener('touchend', end);
    element.removeEventListener('touchcancel', end);
  };
}
