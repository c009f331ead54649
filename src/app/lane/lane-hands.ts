import type { Lane } from '../../../shared/loop/lane.ts';
import { beatsOf } from '../../../shared/loop/length.ts';
import type { Beats } from '../../../shared/math/units.ts';
import { changePlacements, movePlacements } from '../../store/placement-commands.ts';
import type { Gesture } from '../../store/project-store.ts';
import type { PageContext } from '../page/context.ts';
import { wentUpUnseen } from '../page/holding.ts';
import { type How, howOf } from '../sheet/choosing.ts';
import type { LaneWord } from './lane-words.ts';
import { onGrid } from './placing.ts';

export interface LaneHandsInput {
  readonly page: PageContext;
  readonly lane: () => Lane | null;
  readonly words: () => readonly LaneWord[];
  /** The position under a point of the screen, in beats. */
  readonly beatAt: (x: number) => Beats;
  /** CSS pixels of one beat. */
  readonly beatWidth: () => number;
  readonly choose: (word: LaneWord, how: How) => void;
}

type Grip = {
  readonly pointer: number;
  readonly word: LaneWord;
  readonly edge: boolean;
  readonly how: How;
  readonly ids: readonly string[];
  readonly startX: number;
  readonly startBeat: Beats;
  readonly letGo: () => void;
  gesture: Gesture | null;
};

/** The hand on the lane: words are pressed, moved along the grid and lengthened at their end. Alt frees them of the grid. */
export function createLaneHands(input: LaneHandsInput) {
  const { desk } = input.page;
  let grip: Grip | null = null;

  const wordAt = (beat: Beats) =>
    input.words().findLast((word) => beat >= word.from && beat < word.until);

  const drag = (event: PointerEvent, now: Grip, lane: Lane) => {
    const moved = input.beatAt(event.clientX) - now.startBeat;
    if (now.edge) {
      const wish = now.word.until + moved - now.word.at;
      const length = Math.max(0.125, event.altKey ? wish : onGrid(wish, lane));
      now.gesture ??= desk.store.gesture('change a length');
      now.gesture.show(changePlacements(lane.id, now.ids, { length }));
      return;
    }
    const to = now.word.at + moved;
    const by = (event.altKey ? to : onGrid(to, lane)) - now.word.at;
    now.gesture ??= desk.store.gesture(now.ids.length === 1 ? 'move on the lane' : 'move several');
    now.gesture.show(movePlacements(lane.id, now.ids, by));
  };

  const end = () => {
    grip?.letGo();
    grip = null;
  };
  const cancel = () => {
    grip?.gesture?.cancel();
    end();
  };

  const up = (event: PointerEvent) => {
    if (event.pointerId !== grip?.pointer) return;
    if (grip.gesture) grip.gesture.done();
    else if (grip.how === 'only') input.choose(grip.word, 'only');
    end();
  };

  return {
    down: (event: PointerEvent) => {
      const lane = input.lane();
      if (event.button !== 0 || !lane || grip) return;
      const beat = input.beatAt(event.clientX);
      const word = wordAt(beat);
      void input.page.sound.wake();
      if (!word) {
        desk.store.setSession({ selection: { kind: 'nothing' } });
        return;
      }
      (event.currentTarget as HTMLElement).setPointerCapture(event.pointerId);
      const { selection } = desk.store.session;
      const among = selection.kind === 'placements' && selection.ids.includes(word.id);
      const how = howOf(event);
      if (!among || how !== 'only') input.choose(word, how);
      const after = desk.store.session.selection;
      const ids =
        after.kind === 'placements' && after.ids.includes(word.id) ? after.ids : [word.id];
      // A finger covers more than a mouse, but never more than a third of the word.
      const width = (word.until - word.from) * input.beatWidth();
      const reach = event.pointerType === 'touch' ? Math.min(20, width / 3) : 7;
      const edge = (word.until - beat) * input.beatWidth() < reach && word.placement !== null;
      grip = {
        pointer: event.pointerId,
        word,
        edge,
        how,
        ids,
        startX: event.clientX,
        startBeat: beat,
        letGo: input.page.holding.take(cancel),
        gesture: null,
      };
      void input.page.sound.playSlice(word.slice, word.slice.id);
    },
    move: (event: PointerEvent) => {
      const lane = input.lane();
      if (event.pointerId !== grip?.pointer) return;
      if (wentUpUnseen(event)) return up(event);
      if (lane?.source.kind !== 'flip') return;
      if (grip.gesture || Math.abs(event.clientX - grip.startX) > 5) drag(event, grip, lane);
    },
    up,
    cancel: (event: PointerEvent) => {
      if (event.pointerId === grip?.pointer) cancel();
    },
    beats: () => (input.lane() ? beatsOf(input.lane() as Lane) : 0),
  };
}
