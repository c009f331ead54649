import { createMemo, createResource, createSignal, For, onCleanup, onMount } from 'solid-js';
import {
  clearPads,
  type PadPlace,
  padsInRow,
  samePlace,
  setPad,
  swapPads,
} from '../../store/pad-commands.ts';
import { usePage } from '../page/context.ts';
import { keyLabel, readLayout } from './keys.ts';
import { PadButton } from './pad.tsx';
import './rows.css';

function padUnder(x: number, y: number): PadPlace | null {
  const found = document.elementFromPoint(x, y)?.closest<HTMLElement>('[data-pad]');
  const [row, key] = (found?.dataset.pad ?? '').split(' ').map(Number);
  return row === undefined || key === undefined ? null : { row, key };
}

/** Four rows of pads, staggered as the letter keys are. */
export function Rows() {
  const page = usePage();
  const { desk, carrying, messages, playing } = page;
  const [layout] = createResource(readLayout);
  const under = createMemo(() => {
    const carried = carrying.carried();
    return carried ? padUnder(carried.x, carried.y) : null;
  });

  let region!: HTMLElement;
  const [entry, setEntry] = createSignal<PadPlace>({ row: 0, key: 0 });
  /** Slices onto a pad and those beside it, or a pad in exchange for another. */
  const lay = (slices: readonly string[], from: PadPlace | null, place: PadPlace): boolean => {
    if (from) {
      desk.store.edit(swapPads(from, place));
      return true;
    }
    if (slices.length === 0) return false;
    const run = desk.store.gesture('put slices on pads');
    slices.slice(0, padsInRow[place.row] - place.key).forEach((slice, i) => {
      run.add(setPad({ row: place.row, key: place.key + i }, slice));
    });
    run.done();
    messages.say('On its pad.');
    return true;
  };
  /** What is chosen comes to the pad that has the focus, as if the hand had carried it there. */
  const layChosen = (place: PadPlace) => {
    const { selection } = desk.store.session;
    const from = selection.kind === 'pads' ? (selection.places[0] ?? null) : null;
    const slices = selection.kind === 'slices' ? selection.ids : [];
    if (!lay(slices, from, place))
      return messages.hint('Choose words first, or a pad to swap with.');
    if (from) desk.store.setSession({ selection: { kind: 'pads', places: [place] } });
  };
  const pressed = (event: KeyboardEvent) => {
    if (event.altKey || event.ctrlKey || event.metaKey) return;
    const place = entry();
    if (event.key === 'Enter' && event.shiftKey) layChosen(place);
    else if (event.key === 'Delete' || event.key === 'Backspace')
      desk.store.edit(clearPads([place]));
    else return arrow(event);
    event.preventDefault();
    event.stopPropagation();
  };
  const arrow = (event: KeyboardEvent) => {
    const { row, key } = entry();
    const to: Record<string, PadPlace> = {
      ArrowLeft: { row, key: key - 1 },
      ArrowRight: { row, key: key + 1 },
      ArrowUp: { row: row - 1, key },
      ArrowDown: { row: row + 1, key },
    };
    const place = to[event.key];
    if (!place) return;
    event.preventDefault();
    const last = (padsInRow[place.row] ?? 0) - 1;
    if (last < 0 || place.key < 0) return;
    const at = `${place.row} ${Math.min(place.key, last)}`;
    region.querySelector<HTMLElement>(`[data-pad="${at}"]`)?.focus();
  };

  onMount(() => {
    onCleanup(
      carrying.onDrop(({ slices, from }, x, y) => {
        const place = padUnder(x, y);
        return place !== null && lay(slices, from, place);
      }),
    );
  });

  return (
    <section class="rows" aria-label="Pads" ref={region} onKeyDown={pressed}>
      <For each={padsInRow}>
        {(count, row) => (
          <fieldset class="pad-row set">
            <legend class="unseen">Row {row() + 1} of pads</legend>
            <For each={Array.from({ length: count }, (_, key) => ({ row: row(), key }))}>
              {(place) => (
                <PadButton
                  place={place}
                  label={keyLabel(place, layout() ?? null)}
                  playing={playing}
                  entry={samePlace(place, entry())}
                  onFocus={() => setEntry(place)}
                  under={under() !== null && samePlace(place, under() as PadPlace)}
                />
              )}
            </For>
          </fieldset>
        )}
      </For>
    </section>
  );
}
