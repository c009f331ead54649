import type { PageContext } from '../page/context.ts';

/** Choosing words and lines: one, a range from the last one chosen, or one more. */
export function createChoosing({ desk, sound, names }: PageContext) {
  const { store } = desk;
  let anchor: string | null = null;

  const ids = () => store.project()?.slices.map((slice) => slice.id) ?? [];
  const chosen = (): readonly string[] =>
    store.session.selection.kind === 'slices' ? store.session.selection.ids : [];

  const choose = (id: string, how: 'only' | 'range' | 'toggle'): void => {
    const before = chosen();
    let next: readonly string[] = [id];
    if (how === 'toggle')
      next = before.includes(id) ? before.filter((one) => one !== id) : [...before, id];
    else if (how === 'range' && anchor !== null && ids().includes(anchor)) {
      const all = ids();
      const [a, b] = [all.indexOf(anchor), all.indexOf(id)].sort((x, y) => x - y);
      next = all.slice(a, (b as number) + 1);
    }
    if (how !== 'range' || anchor === null) anchor = id;
    store.setSession({
      selection: next.length ? { kind: 'slices', ids: next } : { kind: 'nothing' },
    });
  };

  const chooseLine = (line: number, range: boolean): void => {
    const { selection } = store.session;
    const before = selection.kind === 'phrases' ? selection.indexes : [];
    const first = before[0];
    let indexes: readonly number[] = [line];
    if (range && first !== undefined) {
      const [a, b] = [Math.min(first, line), Math.max(first, line)];
      indexes = Array.from({ length: b - a + 1 }, (_, i) => a + i);
    } else if (before.length === 1 && first === line) indexes = [];
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
    const last = chosen()[chosen().length - 1];
    if (last === undefined) return all[0] ?? null;
    return all[Math.min(all.length - 1, Math.max(0, all.indexOf(last) + by))] ?? null;
  };

  /** The first or last word of the line that holds the last chosen one. */
  const edgeOfLine = (side: 'first' | 'last'): string | null => {
    const line = names().get(chosen()[chosen().length - 1] ?? '')?.line;
    const inLine = ids().filter((id) => names().get(id)?.line === line);
    return (side === 'first' ? inLine[0] : inLine[inLine.length - 1]) ?? null;
  };

  return { choose, chooseLine, hear, beside, edgeOfLine, chosen };
}

export type Choosing = ReturnType<typeof createChoosing>;
