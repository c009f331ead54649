import { nearestBeat } from '../../../shared/hear/beats/state.ts';
import { markOne, moveBeat, removeBeat } from '../../store/beat-commands.ts';
import { joinSlices, moveEdge, moveLanding } from '../../store/slice-commands.ts';
import type { PageContext } from '../page/context.ts';
import { figure } from '../sentence/words.ts';
import type { BeatFocus } from './beat-focus.ts';
import type { Choosing } from './choosing.ts';

/** One press of an arrow with Alt: a millisecond for cuts, five for beats; ten times that with Shift. */
const cutStep = 0.001;
const beatStep = 0.005;
/** The keys that mean the word that has the focus. */
const meant = /^(Arrow|Home$|End$|Enter$|Delete$|Backspace$)/;

/** The keys of the sheet while one of its words or beats has the focus. True when the key was one. */
export function sheetKey(
  event: KeyboardEvent,
  page: PageContext,
  choosing: Choosing,
  beside: (id: string, rows: 1 | -1) => string | null,
  show: (id: string) => void,
  beatFocus: BeatFocus,
): boolean {
  const { store } = page.desk;
  const sliceOf = (id: string) => store.project()?.slices.find((one) => one.id === id);
  const target = event.target as HTMLElement;
  if (target.dataset.beat !== undefined)
    return beatKey(event, page, beatFocus.meant(Number(target.dataset.beat)), beatFocus.bring);
  const { slice: focused } = target.dataset;
  // What was only passed by is chosen by the first key that means it.
  if (focused && !choosing.chosen().includes(focused) && meant.test(event.key))
    choosing.choose(focused, 'only');
  const last = choosing.last();
  if (event.altKey && (event.key === 'ArrowLeft' || event.key === 'ArrowRight') && last) {
    const slice = sliceOf(last);
    const by = (event.key === 'ArrowLeft' ? -1 : 1) * cutStep * (event.shiftKey ? 10 : 1);
    if (slice) store.edit(moveEdge(last, 'start', slice.start + by));
    page.messages.say(`Starts at ${figure(sliceOf(last)?.start ?? 0, 3)} seconds.`);
    return true;
  }
  if (event.altKey && (event.key === 'ArrowUp' || event.key === 'ArrowDown') && last) {
    const slice = sliceOf(last);
    const by = (event.key === 'ArrowUp' ? -1 : 1) * cutStep * (event.shiftKey ? 10 : 1);
    if (slice) store.edit(moveLanding(last, slice.landing + by));
    page.messages.say(`Lands at ${figure(sliceOf(last)?.landing ?? 0, 3)} seconds.`);
    return true;
  }
  const to: Record<string, () => string | null> = {
    ArrowLeft: () => choosing.beside(-1),
    ArrowRight: () => choosing.beside(1),
    ArrowUp: () => (last ? beside(last, -1) : choosing.beside(0)),
    ArrowDown: () => (last ? beside(last, 1) : choosing.beside(0)),
    Home: () => choosing.edgeOfLine('first'),
    End: () => choosing.edgeOfLine('last'),
  };
  const go = event.ctrlKey || event.metaKey || event.altKey ? undefined : to[event.key];
  if (go) {
    const id = go();
    if (id) {
      choosing.choose(id, event.shiftKey ? 'range' : 'only');
      show(id);
    }
    return true;
  }
  if (event.key === 'Enter' && !event.altKey && last) {
    choosing.hear(last);
    return true;
  }
  if ((event.key === 'Delete' || event.key === 'Backspace') && last) {
    const chosen = choosing.chosen();
    const slices = store.project()?.slices ?? [];
    const before = slices[slices.findIndex((one) => one.id === last) - 1];
    const ids = chosen.length > 1 ? chosen : before ? [before.id, last] : [];
    store.edit(joinSlices(ids));
    const [kept] = ids;
    if (kept) {
      choosing.choose(kept, 'only');
      show(kept);
      page.messages.say('Joined.');
    } else page.messages.hint('No word stands before this one to join it with.');
    return true;
  }
  return false;
}

function beatKey(
  event: KeyboardEvent,
  { desk }: PageContext,
  time: number,
  show: (time: number) => void,
): boolean {
  const { store } = desk;
  const beats = store.heard()?.beats ?? [];
  const at = nearestBeat(
    beats.map((beat) => beat.time),
    time,
  );
  const select = (to: number) => {
    store.setSession({ selection: { kind: 'beat', time: to } });
    show(to);
  };
  if (event.key === 'ArrowLeft' || event.key === 'ArrowRight') {
    const way = event.key === 'ArrowLeft' ? -1 : 1;
    if (event.altKey) {
      const to = time + way * beatStep * (event.shiftKey ? 10 : 1);
      store.edit(moveBeat(time, to));
      select(to);
    } else {
      const next = beats[at + way];
      if (next) select(next.time);
    }
    return true;
  }
  if (event.key === 'Delete' || event.key === 'Backspace') {
    store.edit(removeBeat(time));
    const next = beats[at + 1] ?? beats[at - 1];
    if (next) select(next.time);
    return true;
  }
  if (event.key === 'Enter' && !event.altKey) {
    // One that was only passed by is chosen first.
    const { selection } = store.session;
    if (selection.kind === 'beat' && Math.abs(selection.time - time) < 1e-6)
      store.edit(markOne(time));
    else select(time);
    return true;
  }
  return false;
}
