import { type Holding, wentUpUnseen } from '../page/holding.ts';

/** What a sideways drag over a value reports: whole steps from where it began, and how it ended. */
export interface Scrub {
  /** Whether a drag may begin now (not while the value is being typed). */
  readonly may: () => boolean;
  readonly begin: () => void;
  readonly steps: (count: number) => void;
  readonly end: (kept: boolean) => void;
  /** The pointer went up where it came down: a press. */
  readonly press: () => void;
}

const pixelsPerStep = 6;
const slack = 4;

/**
 * Makes an element a value that is dragged sideways: a press that does not move stays a press, a
 * cancelled drag or Escape gives back what was there. Returns what to do on cleanup.
 */
export function makeScrub(element: HTMLElement, holding: Holding, scrub: Scrub): () => void {
  let from: number | null = null;
  let pointer = -1;
  /** While it is dragged: Escape leaves it, and it alone, as it was. */
  let letGo: (() => void) | null = null;

  const stop = (kept: boolean): void => {
    if (letGo) {
      letGo();
      scrub.end(kept);
    }
    from = null;
    letGo = null;
  };
  const down = (event: PointerEvent): void => {
    if (event.button !== 0 || from !== null || !scrub.may()) return;
    // Keeps the caret and the list of choices away until it is known to be a press.
    event.preventDefault();
    element.setPointerCapture(event.pointerId);
    from = event.clientX;
    pointer = event.pointerId;
  };
  const move = (event: PointerEvent): void => {
    if (from === null || event.pointerId !== pointer) return;
    if (wentUpUnseen(event)) {
      stop(true);
      return;
    }
    const moved = event.clientX - from;
    if (!letGo && Math.abs(moved) > slack) {
      letGo = holding.take(() => stop(false));
      scrub.begin();
    }
    if (letGo)
      scrub.steps(Math.round(moved / (event.shiftKey ? pixelsPerStep * 4 : pixelsPerStep)));
  };
  const up = (event: PointerEvent): void => {
    if (from === null || event.pointerId !== pointer) return;
    if (letGo) stop(true);
    else {
      from = null;
      scrub.press();
    }
  };
  const cancel = (event: PointerEvent): void => {
    if (event.pointerId === pointer) stop(false);
  };
  // A mouse press would open a list of choices by itself before the pointer is known to stay.
  const mouse = (event: MouseEvent): void => {
    if (event.button === 0 && scrub.may()) event.preventDefault();
  };

  element.addEventListener('pointerdown', down);
  element.addEventListener('mousedown', mouse);
  element.addEventListener('pointermove', move);
  element.addEventListener('pointerup', up);
  element.addEventListener('pointercancel', cancel);
  return () => {
    element.removeEventListener('pointerdown', down);
    element.removeEventListener('mousedown', mouse);
    element.removeEventListener('pointermove', move);
    element.removeEventListener('pointerup', up);
    element.removeEventListener('pointercancel', cancel);
    letGo?.();
  };
}
