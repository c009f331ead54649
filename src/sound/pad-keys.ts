import { onCleanup } from 'solid-js';
import type { PadPlace } from '../store/pad-commands.ts';

export interface PadKeysOptions {
  /** The pad of a physical key (`event.code`), whatever is printed on it. */
  readonly placeOf: (code: string) => PadPlace | undefined;
  readonly press: (place: PadPlace, timeStamp: number) => void;
  readonly release: (place: PadPlace, timeStamp: number) => void;
  /** Whether keys play pads just now. @default always */
  readonly active?: () => boolean;
}

/** Plays pads from the letter keys; returns its own cleanup. */
export function makePadKeys(options: PadKeysOptions): () => void {
  const down = new Map<string, PadPlace>();

  const press = (event: KeyboardEvent) => {
    // A key with Ctrl, Alt, Meta or Shift is a command, and while writing it is a letter.
    if (event.ctrlKey || event.altKey || event.metaKey || event.shiftKey) return;
    if (event.isComposing || event.defaultPrevented) return;
    if (isWriting(event.target) || options.active?.() === false) return;
    const place = options.placeOf(event.code);
    if (!place) return;
    event.preventDefault();
    if (event.repeat || down.has(event.code)) return;
    down.set(event.code, place);
    options.press(place, event.timeStamp);
  };
  const release = (event: KeyboardEvent) => {
    // macOS sends no keyup for keys that go up while Meta is down (https://github.com/solidjs-community/solid-primitives/issues/269).
    if (event.key === 'Meta') return releaseAll(event);
    const place = down.get(event.code);
    if (!place) return;
    down.delete(event.code);
    options.release(place, event.timeStamp);
  };
  const releaseAll = (event: Event) => {
    for (const place of down.values()) options.release(place, event.timeStamp);
    down.clear();
  };
  const onMeta = (event: KeyboardEvent) => {
    if (event.key === 'Meta') releaseAll(event);
  };
  const onHide = (event: Event) => {
    if (document.visibilityState === 'hidden') releaseAll(event);
  };

  addEventListener('keydown', press);
  addEventListener('keydown', onMeta);
  addEventListener('keyup', release);
  addEventListener('blur', releaseAll);
  document.addEventListener('visibilitychange', onHide);
  return () => {
    removeEventListener('keydown', press);
    removeEventListener('keydown', onMeta);
    removeEventListener('keyup', release);
    removeEventListener('blur', releaseAll);
    document.removeEventListener('visibilitychange', onHide);
    releaseAll(new Event('end'));
  };
}

/** As `makePadKeys`; ends with its owner. */
export function createPadKeys(options: PadKeysOptions): void {
  onCleanup(makePadKeys(options));
}

const notWritten = ['button', 'checkbox', 'color', 'file', 'radio', 'range', 'reset', 'submit'];

function isWriting(target: EventTarget | null): boolean {
  if (!(target instanceof HTMLElement)) return false;
  if (target.isContentEditable) return true;
  if (target instanceof HTMLInputElement) return !notWritten.includes(target.type);
  return target instanceof HTMLTextAreaElement || target instanceof HTMLSelectElement;
}
