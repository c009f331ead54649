import { type Accessor, createMemo, createSignal, onCleanup } from 'solid-js';
import type { Settings } from '../../store/settings.ts';

/** The page's colours and letters as a canvas can use them. */
export interface Colours {
  readonly paper: string;
  readonly leaf: string;
  readonly leafPressed: string;
  readonly rule: string;
  readonly edge: string;
  readonly ink: string;
  readonly inkSoft: string;
  readonly accent: string;
  readonly accentWash: string;
  readonly text: string;
  readonly figures: string;
  /** How large the root's text is, in CSS pixels: as the user has set it in the browser. */
  readonly rem: number;
}

/** A colour that is one by day and another by night is only told as an element wears it. */
function read(): Colours {
  const worn = document.createElement('i');
  document.body.append(worn);
  const style = getComputedStyle(worn);
  const of = (name: string) => {
    worn.style.setProperty('color', `var(${name})`);
    return style.color;
  };
  const font = (name: string) => style.getPropertyValue(name).trim();
  const colours = {
    paper: of('--paper'),
    leaf: of('--leaf'),
    leafPressed: of('--leaf-pressed'),
    rule: of('--rule'),
    edge: of('--edge'),
    ink: of('--ink'),
    inkSoft: of('--ink-soft'),
    accent: of('--accent'),
    accentWash: of('--accent-wash'),
    text: font('--text'),
    figures: font('--figures'),
    rem: Number.parseFloat(getComputedStyle(document.documentElement).fontSize) || 16,
  };
  worn.remove();
  return colours;
}

/**
 * The colours in force, followed through the system's turn to night or to few colours of its own, the user's own choice
 * (`theme`, also set on the document for the style sheets) and a change of the browser's text size. On the printer's paper
 * they are those of the day: night would be a page full of ink.
 */
export function createColours(theme: () => Settings['theme']): Accessor<Colours> {
  const [turns, turn] = createSignal(0);
  const turned = () => turn((n) => n + 1);
  for (const wish of ['(prefers-color-scheme: dark)', '(forced-colors: active)']) {
    const media = matchMedia(wish);
    media.addEventListener('change', turned);
    onCleanup(() => media.removeEventListener('change', turned));
  }
  const measured = document.createElement('i');
  measured.className = 'text-size';
  document.body.append(measured);
  const sizes = new ResizeObserver(turned);
  sizes.observe(measured);
  onCleanup(() => {
    sizes.disconnect();
    measured.remove();
  });
  const [printing, setPrinting] = createSignal(false);
  const begin = () => setPrinting(true);
  const end = () => setPrinting(false);
  addEventListener('beforeprint', begin);
  addEventListener('afterprint', end);
  onCleanup(() => {
    removeEventListener('beforeprint', begin);
    removeEventListener('afterprint', end);
  });
  return createMemo(() => {
    turns();
    const chosen = printing() ? 'light' : theme();
    if (chosen === 'as the system') delete document.documentElement.dataset.theme;
    else document.documentElement.dataset.theme = chosen;
    return read();
  });
}
