import { createMemo, Show } from 'solid-js';
import { usePage } from '../page/context.ts';
import { type RowMeasure, xOf } from './page-measure.ts';
import { type Row, rowAt } from './writing.ts';

/** The mark in a word at which it would be cut: a hair line with feet, as a caret stands in a text. */
export function Mark(props: { readonly rows: readonly Row[]; readonly measure: RowMeasure }) {
  const { mark } = usePage();
  const place = createMemo(() => {
    const spot = mark.at();
    const i = spot ? rowAt(props.rows, spot.time) : -1;
    const row = props.rows[i];
    if (!spot || !row || spot.time >= row.until) return null;
    const { height, top, bottom } = props.measure;
    return { x: xOf(row, spot.time), y: i * height + top - 3, height: bottom - top + 6 };
  });
  return (
    <Show when={place()}>
      {(at) => (
        <div
          class="sheet-mark"
          style={{
            transform: `translate(${at().x - 3.5}px, ${at().y}px)`,
            height: `${at().height}px`,
          }}
        />
      )}
    </Show>
  );
}
