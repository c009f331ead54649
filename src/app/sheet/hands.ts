import { snapToOnset } from '../../../shared/cut/edits.ts';
import type { Seconds } from '../../../shared/math/units.ts';
import { addBeat, moveBeat } from '../../store/beat-commands.ts';
import type { Gesture } from '../../store/project-store.ts';
import { addSlice, moveEdge, moveLanding } from '../../store/slice-commands.ts';
import type { PageContext } from '../page/context.ts';
import { wentUpUnseen } from '../page/holding.ts';
import { type How, howOf } from './choosing.ts';
import type { Found } from './find.ts';
import { timeOf } from './page-measure.ts';
import type { Row } from './writing.ts';

/** A beat on its way under the hand. */
export interface MovingBeat {
  readonly from: Seconds;
  readonly to: Seconds;
}

export interface HandsInput {
  readonly page: PageContext;
  readonly rows: () => readonly Row[];
  readonly find: (event: PointerEvent) => Found | null;
  /** CSS pixels from the left edge of the writing. */
  readonly xOf: (event: PointerEvent) => number;
  readonly choose: (id: string, how: How) => void;
  readonly chooseLine: (line: number, how: How) => void;
  readonly hear: (id: string) => void;
  readonly setMoving: (beat: MovingBeat | null) => void;
}

const slack = 5;
const holdToLift = 320;
/** Two presses within this many milliseconds are a double press. */
const doublePress = 400;

type Hold = {
  readonly found: Found;
  readonly x: number;
  readonly y: number;
  readonly pointer: number;
  gesture: Gesture | null;
  lifted: boolean;
  moved: boolean;
  timer: number;
  readonly letGo: () => void;
};

/**
 * The hand on the sheet: words are pressed and carried, cuts, landings and beats dragged. Edges and
 * beats snap to a nearby attack; Alt frees them. Returns the listeners for the sheet's element.
 */
export function createHands(input: HandsInput) {
  const { page } = input;
  const { desk, carrying, holding } = page;
  let hold: Hold | null = null;

  const onsets = () => desk.store.heard()?.onsets ?? [];
  /** A snap reaches as far as a few pixels of the hand, never further than a short note. */
  const reach = (scale: number): Seconds => Math.min(0.04, 9 / scale);
  const near = (time: Seconds, scale: number): Seconds => {
    let best = time;
    let least = reach(scale);
    for (const onset of onsets()) {
      const d = Math.abs(onset.time - time);
      if (d < least) {
        least = d;
        best = onset.time;
      }
    }
    return best;
  };

  /** A press in a word leaves the mark there, just before an attack if one is near. */
  const setMark = (event: PointerEvent, { id, time, row }: Found & { readonly kind: 'word' }) => {
    const at = event.altKey ? time : snapToOnset(onsets(), time, reach(row.scale));
    page.mark.set({ slice: id, time: at });
  };

  /** A double press in the beats' margin sets a beat there; where no word is, it makes one. */
  const makeThere = (found: Found | null, free: boolean) => {
    if (found?.kind !== 'above' && found?.kind !== 'paper') return;
    const at = free ? found.time : near(found.time, found.row.scale);
    if (found.kind === 'above') {
      desk.store.edit(addBeat(at));
      desk.store.setSession({ selection: { kind: 'beat', time: at } });
      return;
    }
    const seconds = desk.store.project()?.take.seconds ?? 0;
    desk.store.edit(addSlice({ start: at, landing: at, end: Math.min(found.row.until, seconds) }));
    const made = desk.store.project()?.slices.find((one) => one.landing === at);
    if (made) input.choose(made.id, 'only');
  };
  let touched = { x: 0, y: 0, at: Number.NEGATIVE_INFINITY };
  let touchedTwice = Number.NEGATIVE_INFINITY;
  const touchTwice = (event: PointerEvent, found: Found): boolean => {
    const again =
      event.timeStamp - touched.at < doublePress &&
      Math.hypot(event.clientX - touched.x, event.clientY - touched.y) < 24;
    touched = { x: event.clientX, y: event.clientY, at: again ? 0 : event.timeStamp };
    if (!again || (found.kind !== 'above' && found.kind !== 'paper')) return false;
    touchedTwice = event.timeStamp;
    makeThere(found, false);
    return true;
  };

  /** With Shift or Control a press chooses, at the edges of a word too: narrow words are all edge. */
  const pressed = (event: PointerEvent, found: Found | null): Found | null => {
    if (found?.kind !== 'edge' && found?.kind !== 'landing') return found;
    if (howOf(event) === 'only') return found;
    const { row, id } = found;
    return { kind: 'word', row, id, time: timeOf(row, input.xOf(event)) };
  };

  /** What is dragged by its edge, or is a beat, is chosen as soon as it is held. */
  const chooseHeld = (found: Found) => {
    if (found.kind === 'edge' || found.kind === 'landing') input.choose(found.id, 'only');
    else if (found.kind === 'beat')
      desk.store.setSession({ selection: { kind: 'beat', time: found.time } });
  };

  const lift = () => {
    if (hold?.found.kind !== 'word') return;
    const { selection } = desk.store.session;
    const { id } = hold.found;
    const many = selection.kind === 'slices' && selection.ids.includes(id) ? selection.ids : [id];
    hold.lifted = true;
    carrying.lift(many, hold.x, hold.y);
  };

  /** Where the hand is in the row that it took hold in, as that is set now: lines may be set closer meanwhile. */
  const under = (event: PointerEvent, { row }: Found) => {
    const same = input.rows().find((one) => one.line === row.line && one.part === row.part) ?? row;
    return { time: timeOf(same, input.xOf(event)), scale: same.scale };
  };

  const drag = (event: PointerEvent, now: Hold) => {
    const { found } = now;
    const { time, scale } = under(event, found);
    if (found.kind === 'beat') {
      input.setMoving({ from: found.time, to: event.altKey ? time : near(time, scale) });
    } else if (found.kind === 'edge') {
      now.gesture ??= desk.store.gesture('move a cut');
      const to = event.altKey ? time : snapToOnset(onsets(), time, reach(scale));
      now.gesture.show(moveEdge(found.id, found.edge, to));
    } else if (found.kind === 'landing') {
      now.gesture ??= desk.store.gesture('move a landing');
      now.gesture.show(moveLanding(found.id, event.altKey ? time : near(time, scale)));
    }
  };

  const end = (kept: boolean, event?: PointerEvent) => {
    if (!hold) return;
    const now = hold;
    hold = null;
    now.letGo();
    clearTimeout(now.timer);
    if (now.lifted) {
      if (kept && event) carrying.drop(event.clientX, event.clientY);
      else carrying.cancel();
    }
    if (kept) now.gesture?.done();
    else now.gesture?.cancel();
    input.setMoving(null);
  };

  return {
    down: (event: PointerEvent) => {
      if (event.button !== 0 || hold) return;
      const found = pressed(event, input.find(event));
      if (!found) return;
      const touch = event.pointerType === 'touch';
      hold = {
        found,
        x: event.clientX,
        y: event.clientY,
        pointer: event.pointerId,
        gesture: null,
        lifted: false,
        moved: false,
        timer: touch && found.kind === 'word' ? window.setTimeout(lift, holdToLift) : 0,
        letGo: holding.take(() => end(false)),
      };
      if (!touch) (event.currentTarget as HTMLElement).setPointerCapture(event.pointerId);
      void page.sound.wake();
      if (found.kind === 'word' && !touch) {
        const how = howOf(event);
        const { selection } = desk.store.session;
        const among = selection.kind === 'slices' && selection.ids.includes(found.id);
        // A press on one of several chosen words may be the start of carrying them all.
        if (how !== 'only' || !among) input.choose(found.id, how);
        if (how !== 'toggle') input.hear(found.id);
        setMark(event, found);
      } else if (!touch) chooseHeld(found);
    },
    /** The mouse rests over something: a word may be cut there by a key. */
    rest: (event: PointerEvent, found: Found | null) => {
      if (found?.kind !== 'word') return page.mark.point(null);
      const { id, time, row } = found;
      const at = event.altKey ? time : snapToOnset(onsets(), time, reach(row.scale));
      page.mark.point({ slice: id, time: at });
    },
    move: (event: PointerEvent) => {
      if (!hold || event.pointerId !== hold.pointer) return;
      if (wentUpUnseen(event)) return end(true);
      const x = event.clientX - hold.x;
      const y = event.clientY - hold.y;
      if (Math.hypot(x, y) > slack && !hold.moved) {
        const touch = event.pointerType === 'touch';
        // A finger that goes up or down reads on; it drags what it takes sideways.
        if (touch && !hold.lifted && Math.abs(y) > Math.abs(x)) return end(false);
        hold.moved = true;
        if (touch) chooseHeld(hold.found);
        if (!touch && hold.found.kind === 'word') lift();
        else if (!hold.lifted) clearTimeout(hold.timer);
      }
      if (hold.lifted) carrying.move(event.clientX, event.clientY);
      else if (hold.moved) drag(event, hold);
    },
    up: (event: PointerEvent) => {
      if (!hold || event.pointerId !== hold.pointer) return;
      const { found, moved, lifted } = hold;
      if (found.kind === 'beat' && moved) {
        const { time, scale } = under(event, found);
        const to = event.altKey ? time : near(time, scale);
        desk.store.edit(moveBeat(found.time, to));
        desk.store.setSession({ selection: { kind: 'beat', time: to } });
      }
      if (!moved && !lifted) {
        if (event.pointerType === 'touch' && touchTwice(event, found)) {
          // What was made is chosen already.
        } else if (found.kind === 'line') input.chooseLine(found.row.line, howOf(event));
        else if (found.kind === 'word' && event.pointerType === 'touch') {
          input.choose(found.id, 'only');
          input.hear(found.id);
          setMark(event, found);
        } else if (found.kind === 'word' && howOf(event) === 'only') input.choose(found.id, 'only');
        else if (found.kind === 'paper') desk.store.setSession({ selection: { kind: 'nothing' } });
        else {
          chooseHeld(found);
          // Narrow words are all edge, and are heard all the same.
          if (found.kind === 'edge') input.hear(found.id);
        }
      }
      end(true, event);
    },
    cancel: () => end(false),
    twice: (event: MouseEvent) => {
      // A finger's second press was told by itself: not every browser makes a double press of two touches.
      if (event.timeStamp - touchedTwice > doublePress)
        makeThere(input.find(event as PointerEvent), event.altKey);
    },
    /** While words are carried by a finger the page must not scroll under it. */
    touchMove: (event: TouchEvent) => {
      if (event.cancelable && (hold?.lifted || hold?.gesture)) event.preventDefault();
    },
  };
}
