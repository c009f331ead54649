import { type PadPlace, padsInRow } from '../../store/pad-commands.ts';

/**
 * The four rows of letter keys by their place on the keyboard (`KeyboardEvent.code`), whatever is
 * printed on them: UI Events KeyboardEvent code values, W3C.
 */
const codes: readonly (readonly string[])[] = [
  [
    'Digit1',
    'Digit2',
    'Digit3',
    'Digit4',
    'Digit5',
    'Digit6',
    'Digit7',
    'Digit8',
    'Digit9',
    'Digit0',
  ],
  ['KeyQ', 'KeyW', 'KeyE', 'KeyR', 'KeyT', 'KeyY', 'KeyU', 'KeyI', 'KeyO', 'KeyP'],
  ['KeyA', 'KeyS', 'KeyD', 'KeyF', 'KeyG', 'KeyH', 'KeyJ', 'KeyK', 'KeyL'],
  ['KeyZ', 'KeyX', 'KeyC', 'KeyV', 'KeyB', 'KeyN', 'KeyM'],
];

const places = new Map<string, PadPlace>(
  codes.flatMap((row, r) =>
    row.slice(0, padsInRow[r]).map((code, key): [string, PadPlace] => [code, { row: r, key }]),
  ),
);

/** The pad that a physical key plays. */
export const padOfKey = (code: string): PadPlace | undefined => places.get(code);

/** What is printed on most keyboards there; the layout's own letter where the browser tells it. */
export function keyLabel(
  { row, key }: PadPlace,
  layout: ReadonlyMap<string, string> | null,
): string {
  const code = codes[row]?.[key] ?? '';
  return (layout?.get(code) ?? code.replace(/^(Digit|Key)/, '')).toUpperCase();
}

interface KeyboardWithLayout {
  getLayoutMap?: () => Promise<ReadonlyMap<string, string>>;
}

/** The keyboard's own letters, where the browser tells them; null elsewhere. */
export async function readLayout(): Promise<ReadonlyMap<string, string> | null> {
  const { keyboard } = navigator as Navigator & { keyboard?: KeyboardWithLayout };
  try {
    return (await keyboard?.getLayoutMap?.()) ?? null;
  } catch {
    return null;
  }
}
