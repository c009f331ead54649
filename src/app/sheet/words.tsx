import { createMemo, For, Show } from 'solid-js';
import { usePage } from '../page/context.ts';
import { clock, figure } from '../sentence/words.ts';
import type { BeatFocus } from './beat-focus.ts';
import { type Choosing, howOf } from './choosing.ts';
import { doubtBelow } from './draw-sheet.ts';
import { margin, type RowMeasure, xOf } from './page-measure.ts';
import { type Row, rowAt } from './writing.ts';

export interface WordsProps {
  readonly rows: readonly Row[];
  readonly first: number;
  readonly last: number;
  readonly measure: RowMeasure;
  readonly selected: ReadonlySet<string>;
  readonly choosing: Choosing;
  readonly beatFocus: BeatFocus;
}

/** A button over each word, beat and line number in view: what keys, screen readers and tests take hold of. */
export function Words(props: WordsProps) {
  const { desk, names, sound, slices, passingBy } = usePage();
  const { store } = desk;
  const shown = createMemo(() => props.rows.slice(props.first, props.last));

  const places = createMemo(() => {
    const map = new Map<string, { index: number; row: Row; at: number }>();
    shown().forEach((row, k) => {
      for (let i = row.first; i < row.first + row.count; i++) {
        const slice = slices()[i];
        if (slice) map.set(slice.id, { index: props.first + k, row, at: i });
      }
    });
    return map;
  });
  const ids = createMemo(() => [...places().keys()]);
  /** One word is in the order of Tab: the last chosen one, or the first in view. */
  const entry = createMemo(() => {
    const last = props.choosing.last();
    return last !== undefined && places().has(last) ? last : ids()[0];
  });

  const beats = createMemo(() => {
    const from = shown()[0]?.from ?? 0;
    const until = shown()[shown().length - 1]?.until ?? 0;
    return (store.heard()?.beats ?? []).filter((beat) => beat.time >= from && beat.time < until);
  });
  const beatTimes = createMemo(() => beats().map((beat) => beat.time));
  const beatEntry = createMemo(() => {
    const { selection } = store.session;
    const time = selection.kind === 'beat' ? selection.time : null;
    return beatTimes().find((one) => one === time) ?? beatTimes()[0];
  });

  const lines = createMemo(() => shown().flatMap((row, k) => (row.part === 0 ? [{ row, k }] : [])));
  const linePressed = (line: number) =>
    store.session.selection.kind === 'phrases' && store.session.selection.indexes.includes(line);

  return (
    <div class="sheet-words">
      <For each={lines().map(({ row }) => row.line)}>
        {(line) => {
          const place = () => lines().find(({ row }) => row.line === line);
          return (
            <button
              type="button"
              class="line"
              aria-label={`Line ${line + 1}`}
              aria-pressed={linePressed(line)}
              style={{
                left: '0px',
                width: `${margin.left - 12}px`,
                top: `${(props.first + (place()?.k ?? 0)) * props.measure.height + props.measure.top}px`,
                height: `${props.measure.bottom - props.measure.top}px`,
              }}
              onClick={(event) => {
                if (event.detail === 0) props.choosing.chooseLine(line, howOf(event));
              }}
            >
              {line + 1}
            </button>
          );
        }}
      </For>
      <For each={ids()}>
        {(id) => {
          const place = () => places().get(id);
          const slice = () => slices()[place()?.at ?? -1];
          const left = () => {
            const p = place();
            const s = slice();
            return p && s ? xOf(p.row, Math.max(s.start, p.row.from)) : 0;
          };
          const right = () => {
            const p = place();
            const s = slice();
            return p && s ? xOf(p.row, Math.min(s.end, p.row.until)) : 0;
          };
          const label = () => {
            const name = names().get(id);
            const s = slice();
            return name && s
              ? `Line ${name.line}, slice ${name.word}, ${figure(s.end - s.start, 2)} seconds`
              : 'Slice';
          };
          return (
            <button
              type="button"
              class="slice"
              data-slice={id}
              tabindex={entry() === id ? 0 : -1}
              aria-label={label()}
              aria-pressed={props.selected.has(id)}
              style={{
                left: `${left()}px`,
                width: `${Math.max(4, right() - left() - 2)}px`,
                top: `${(place()?.index ?? 0) * props.measure.height + props.measure.top}px`,
                height: `${props.measure.bottom - props.measure.top}px`,
              }}
              onFocus={() => {
                if (!passingBy() && !props.selected.has(id)) props.choosing.choose(id, 'only');
              }}
              onClick={(event) => {
                // A press by keys or by a screen reader; the hand is heard at pointer down.
                if (event.detail !== 0) return;
                props.choosing.choose(id, 'only');
                void sound.wake();
                props.choosing.hear(id);
              }}
            />
          );
        }}
      </For>
      <For each={beatTimes()}>
        {(time) => {
          const beat = () => beats().find((one) => one.time === time);
          const index = () => rowAt(props.rows, time);
          const row = () => props.rows[index()];
          return (
            <Show when={row()}>
              {(row) => (
                <button
                  type="button"
                  class="beat"
                  data-beat={time}
                  tabindex={beatEntry() === time ? 0 : -1}
                  aria-label={`Beat ${beat()?.count ?? ''} of the bar at ${clock(time, 2)}${
                    (beat()?.confidence ?? 1) < doubtBelow ? ', doubtful' : ''
                  }`}
                  aria-pressed={
                    store.session.selection.kind === 'beat' && store.session.selection.time === time
                  }
                  style={{
                    left: `${xOf(row(), time) - 9}px`,
                    top: `${index() * props.measure.height + props.measure.beats - 9}px`,
                    width: '18px',
                    height: '18px',
                  }}
                  onFocus={() => {
                    if (passingBy() || props.beatFocus.returning()) return;
                    store.setSession({ selection: { kind: 'beat', time } });
                  }}
                />
              )}
            </Show>
          );
        }}
      </For>
    </div>
  );
}
