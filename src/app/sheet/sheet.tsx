import {
  createEffect,
  createMemo,
  createSignal,
  For,
  on,
  onCleanup,
  onMount,
  Show,
} from 'solid-js';
import { InkCanvas } from '../ink/ink-canvas.tsx';
import { DoingNote } from '../margin/margin.tsx';
import { usePage } from '../page/context.ts';
import { likeness } from '../page/naming.ts';
import { slicesBehind } from '../page/selecting.ts';
import { makeBeatFocus } from './beat-focus.ts';
import { Blank } from './blank.tsx';
import { createChoosing } from './choosing.ts';
import { drawSheet } from './draw-sheet.ts';
import { findOnSheet } from './find.ts';
import { Foot } from './foot.tsx';
import { createHands, type MovingBeat } from './hands.ts';
import { Mark } from './mark.tsx';
import { margin, measureRow, rowHeight, xOf } from './page-measure.ts';
import { PlayHead } from './play-head.tsx';
import { sheetKey } from './sheet-keys.ts';
import { Words } from './words.tsx';
import { rowAt, setWriting } from './writing.ts';
import { makeZooming } from './zooming.ts';
import './sheet.css';

/** The take set like writing. What is drawn lies under true buttons, one for each word in view. */
export function Sheet() {
  const page = usePage();
  const { desk, colours, reading, slices } = page;
  const { store } = desk;
  let scroller!: HTMLDivElement;
  let length!: HTMLDivElement;
  const [box, setBox] = createSignal({ width: 0, height: 0, least: 88 });
  const [scroll, setScroll] = createSignal(0);
  const [moving, setMoving] = createSignal<MovingBeat | null>(null);

  const rows = createMemo(() => {
    const heard = store.heard();
    if (!heard || box().width === 0) return [];
    return setWriting({
      phrases: heard.phrases,
      slices: slices(),
      seconds: heard.peaks.length / heard.peaks.sampleRate,
      width: box().width - margin.left - margin.right,
      setting: store.session.lines,
      span: store.session.zoom,
    });
  });
  const measure = createMemo(() => measureRow(rowHeight(box().height, box().least), colours().rem));
  const inView = createMemo(() => {
    const { height } = measure();
    const first = Math.max(0, Math.floor(scroll() / height + 0.01));
    const last = Math.min(rows().length, Math.ceil((scroll() + box().height) / height - 0.01));
    return { first, last };
  });
  const beats = createMemo(() => {
    const all = store.heard()?.beats ?? [];
    const move = moving();
    if (!move) return all;
    return all
      .map((beat) =>
        beat.time === move.from ? { ...beat, time: move.to, by: 'moved' as const } : beat,
      )
      .sort((a, b) => a.time - b.time);
  });
  const selected = createMemo(() => {
    const project = store.project();
    return project ? slicesBehind(project, store.session.selection) : new Set<string>();
  });

  createEffect(() => {
    const first = rows()[inView().first];
    const last = rows()[inView().last - 1];
    reading.show(first?.from ?? 0, last?.until ?? 0);
  });

  const goTo = (time: number) => {
    const i = Math.max(0, rowAt(rows(), time));
    scroller.scrollTop = i * measure().height;
  };
  reading.onGoTo(goTo);

  const choosing = createChoosing(page);
  const show = (id: string) => {
    const i = rows().findIndex((row) =>
      slices()
        .slice(row.first, row.first + row.count)
        .some((slice) => slice.id === id),
    );
    const { height } = measure();
    if (i < 0) return;
    if (i * height < scroller.scrollTop) scroller.scrollTop = i * height;
    else if ((i + 1) * height > scroller.scrollTop + box().height)
      scroller.scrollTop = (i + 1) * height - box().height;
    setScroll(scroller.scrollTop);
    queueMicrotask(() => length.querySelector<HTMLElement>(`[data-slice="${id}"]`)?.focus());
  };
  const beatFocus = makeBeatFocus(
    page,
    () => length,
    (time) => {
      if (time < reading.from() || time > reading.until()) goTo(time);
      setScroll(scroller.scrollTop);
    },
  );
  /** The word under or over a word, in the row beside its own. */
  const beside = (id: string, by: 1 | -1): string | null => {
    const at = slices().findIndex((slice) => slice.id === id);
    const i = rows().findIndex((row) => at >= row.first && at < row.first + row.count);
    const row = rows()[i];
    let next = i + by;
    while (rows()[next]?.count === 0) next += by;
    const other = rows()[next];
    if (!row || !other) return null;
    const x = xOf(row, slices()[at].landing);
    const words = slices().slice(other.first, other.first + other.count);
    return words.reduce((best, word) =>
      Math.abs(xOf(other, word.landing) - x) < Math.abs(xOf(other, best.landing) - x) ? word : best,
    ).id;
  };

  const point = (event: MouseEvent) => {
    const area = length.getBoundingClientRect();
    return { x: event.clientX - area.left, y: event.clientY - area.top };
  };
  const find = (event: PointerEvent) => {
    const touch = event.pointerType === 'touch';
    const { x, y } = point(event);
    return findOnSheet(
      {
        rows: rows(),
        slices: slices(),
        beats: store.heard()?.beats ?? [],
        measure: measure(),
        reach: touch ? { beat: 20, edge: 12, landing: 16 } : { beat: 8, edge: 5, landing: 7 },
        edgesOf: touch ? selected() : null,
      },
      x,
      y,
    );
  };
  const hands = createHands({
    page,
    rows,
    find,
    xOf: (event) => point(event).x,
    choose: choosing.choose,
    chooseLine: choosing.chooseLine,
    hear: choosing.hear,
    setMoving,
  });
  const [cutting, setCutting] = createSignal(false);
  const hover = (event: PointerEvent) => {
    hands.move(event);
    if (event.pointerType === 'mouse' && event.buttons === 0) {
      const found = find(event);
      setCutting(found?.kind === 'edge' || found?.kind === 'landing');
      hands.rest(event, found);
    }
  };

  onMount(() => {
    const look = () => {
      const least = Number.parseFloat(getComputedStyle(scroller).getPropertyValue('--line')) || 88;
      setBox({ width: scroller.clientWidth, height: scroller.clientHeight, least });
      setScroll(scroller.scrollTop);
    };
    const watch = new ResizeObserver(look);
    watch.observe(scroller);
    createEffect(on(() => colours().rem, look));
    onCleanup(() => watch.disconnect());

    onCleanup(
      makeZooming(scroller, {
        span: () => store.session.zoom,
        setSpan: (zoom) => store.setSession({ lines: 'one scale', zoom }),
        pinching: hands.cancel,
      }),
    );
    length.addEventListener('touchmove', hands.touchMove, { passive: false });
  });

  // A closer or wider setting keeps the first line in view where it was.
  createEffect(
    on([() => store.session.zoom, () => store.session.lines], () => goTo(reading.from() + 1e-3), {
      defer: true,
    }),
  );
  // A memo: an edit makes a new document, but not another project.
  const open = createMemo(() => store.project()?.id);
  createEffect(
    on(
      open,
      () => {
        scroller.scrollTop = 0;
      },
      { defer: true },
    ),
  );

  const notes = createMemo(() => {
    const phrases = store.heard()?.phrases ?? [];
    const { first, last } = inView();
    return rows()
      .slice(first, last)
      .flatMap((row, k) => {
        const phrase = phrases[row.line];
        const words = row.part === 0 && phrase ? likeness(phrase) : null;
        return words ? [{ words, top: (first + k) * measure().height + measure().bottom + 1 }] : [];
      });
  });

  return (
    <section class="sheet" classList={{ cutting: cutting() }} id="sheet" aria-label="Sheet">
      <div class="sheet-scroll" ref={scroller} onScroll={() => setScroll(scroller.scrollTop)}>
        {/* biome-ignore lint/a11y/noStaticElementInteractions: the hand works on the whole writing; its words are true buttons. */}
        <div
          class="sheet-length"
          ref={length}
          style={{ height: `${rows().length * measure().height}px` }}
          onPointerDown={hands.down}
          onPointerMove={hover}
          onPointerUp={hands.up}
          onPointerCancel={hands.cancel}
          onPointerLeave={() => page.mark.point(null)}
          onDblClick={hands.twice}
          onKeyDown={(event) => {
            if (!sheetKey(event, page, choosing, beside, show, beatFocus)) return;
            // Where the hand works with keys, the mouse that lies somewhere points at nothing.
            page.mark.point(null);
            event.preventDefault();
            event.stopPropagation();
          }}
        >
          <div class="sheet-window" style={{ height: `${box().height}px` }}>
            <InkCanvas
              class="sheet-ink"
              draw={(surface) => {
                const heard = store.heard();
                if (!heard) return;
                const { selection } = store.session;
                drawSheet(surface, {
                  rows: rows(),
                  slices: slices(),
                  beats: beats(),
                  peaks: heard.peaks,
                  scroll: scroll(),
                  measure: measure(),
                  selected: selected(),
                  sounding: page.sounding(),
                  beat: selection.kind === 'beat' ? selection.time : null,
                  colours: colours(),
                });
              }}
            />
          </div>
          <Words
            rows={rows()}
            first={inView().first}
            last={inView().last}
            measure={measure()}
            selected={selected()}
            choosing={choosing}
            beatFocus={beatFocus}
          />
          <For each={notes()}>
            {(note) => (
              <p class="sheet-note note" style={{ top: `${note.top}px` }}>
                {note.words}
              </p>
            )}
          </For>
          <Mark rows={rows()} measure={measure()} />
          <PlayHead rows={rows()} measure={measure()} height={box().height} scroller={scroller} />
        </div>
        <Show when={!store.project() && !desk.doing()}>
          <Blank />
        </Show>
      </div>
      <DoingNote />
      <Foot />
    </section>
  );
}
