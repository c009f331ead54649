import type { PageContext } from '../page/context.ts';
import { orNothing } from '../page/selecting.ts';

/** What a press adds to what is chosen: nothing, all as far as there, or one more or one less. */
export type How = 'only' | 'range' | 'toggle';

/** Shift chooses as far as there, Control one more, as in any list (common practice, no source). */
export const howOf = (event: MouseEvent | KeyboardEvent): How =>
  event.shiftKey ? 'range' : event.ctrlKey || event.metaKey ? 'toggle' : 'only';

/**
 * The things chosen next out of things in a row. A range goes from `anchor` if that is chosen still, else
 * from what is chosen first; where nothing is chosen there is no range.
 */
export function chooseAmong<T>(
  all: readonly T[],
  before: readonly T[],
  { one, how, anchor }: { readonly one: T; readonly how: How; readonly anchor: T | null },
): { readonly next: readonly T[]; readonly anchor: T } {
  const known = before.filter((other) => all.includes(other));
  if (how === 'toggle') {
    const next = known.includes(one) ? known.filter((other) => other !== one) : [...known, one];
    return { next, anchor: one };
  }
  const from = anchor !== null && known.includes(anchor) ? anchor : known[0];
  if (how === 'only' || from === undefined) return { next: [one], anchor: one };
  const [a = 0, b = 0] = [all.indexOf(from), all.indexOf(one)].sort((x, y) => x - y);
  return { next: all.slice(a, b + 1), anchor: from };
}

/** Choosing words and lines: one, a range from the last one chosen, or one more. */
export function createChoosing({ desk, sound, names }: PageContext) {
  const { store } = desk;
  let anchor: string | null = null;
  let lineAnchor: number | null = null;
  /** The word that was chosen last: the end of a range that the hand leads. */
  let led: string | null = null;

  const ids = () => store.project()?.slices.map((slice) => slice.id) ?? [];
  const chosen = (): readonly string[] =>
    store.session.selection.kind === 'slices' ? store.session.selection.ids : [];

  const choose = (id: string, how: How): void => {
    const result = chooseAmong(ids(), chosen(), { one: id, how, anchor });
    anchor = result.anchor;
    led = id;
    store.setSession({
      selection: orNothing({ kind: 'slices', ids: result.next }),
    });
  };
  /** The word that keys go on from. */
  const last = (): string | undefined => {
    const now = chosen();
    return led !== null && now.includes(led) ? led : now[now.length - 1];
  };

  const chooseLine = (line: number, how: How): void => {
    const { selection } = store.session;
    const before = selection.kind === 'phrases' ? selection.indexes : [];
    const all = (store.heard()?.phrases ?? []).map((_, i) => i);
    const alone = how === 'only' && before.length === 1 && before[0] === line;
    const result = chooseAmong(all, before, { one: line, how, anchor: lineAnchor });
    lineAnchor = result.anchor;
    const indexes = alone ? [] : result.next;
    store.setSession({
      selection: indexes.length ? { kind: 'phrases', indexes } : { kind: 'nothing' },
    });
  };

  const hear = (id: string): void => {
    const slice = store.project()?.slices.find((one) => one.id === id);
    if (slice) void sound.playSlice(slice, id);
  };

  /** The word beside the last chosen one; the first word when none is chosen. */
  const beside = (by: number): string | null => {
    const all = ids();
    const from = last();
    if (from === undefined) return all[0] ?? null;
    return all[Math.min(all.length - 1, Math.max(0, all.indexOf(from) + by))] ?? null;
  };

  /** The first or last word of the line that holds the last chosen one. */
  const edgeOfLine = (side: 'first' | 'last'): string | null => {
    const line = names().get(last() ?? '')?.line;
    const inLine = ids().filter((id) => names().get(id)?.line === line);
    return (side === 'first' ? inLine[0] : inLine[inLine.length - 1]) ?? null;
  };

  return { choose, chooseLine, hear, beside, edgeOfLine, chosen, last };
}

export type Choosing = ReturnType<typeof createChoosing>;
