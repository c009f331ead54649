import { createEffect } from 'solid-js';
import { beforeAttack } from '../../../shared/cut/suggest.ts';
import type { Seconds } from '../../../shared/math/units.ts';
import type { Playing } from '../../sound/sound.ts';
import { addBeat } from '../../store/beat-commands.ts';
import { fillRow } from '../../store/pad-commands.ts';
import { placementsOf } from '../../store/placement-commands.ts';
import { addSlice, joinSlices, splitSlice } from '../../store/slice-commands.ts';
import { placeByStep } from '../lane/placing.ts';
import { counted, figure, opening } from '../sentence/words.ts';
import { doubtBelow } from '../sheet/draw-sheet.ts';
import { heldSpan } from '../sheet/zooming.ts';
import { type PageContext, usePage } from './context.ts';
import { attacksIn, cuttable } from './cut-mark.ts';
import { chooseFiles } from './files.ts';
import { chosenSlices } from './selecting.ts';

/** What can be done from anywhere on the page, by a word, a key or a screen reader. */
export function createActions(page: Omit<PageContext, 'actions' | 'playing' | 'midi'>) {
  const { desk, sound, reading, messages, mark } = page;
  const { store } = desk;
  let leftAt: Seconds | null = null;
  /** The loop was asked for before it was rendered. */
  let wanted = false;

  /** The stretch of the take that is chosen: lines or slices. */
  const stretch = (): { from: Seconds; until: Seconds } | null => {
    const project = store.project();
    const { selection } = store.session;
    if (!project) return null;
    if (selection.kind === 'beat') {
      // A bar before it, to hear it in its place.
      const at = selection.time;
      return { from: Math.max(0, at - 2), until: at + 2 };
    }
    if (selection.kind === 'phrases') {
      const phrases = store.heard()?.phrases ?? [];
      // Lines that don't follow one another are no stretch: the first run of them is.
      const sorted = [...selection.indexes].sort((a, b) => a - b);
      const run = sorted.filter((line, i) => line === (sorted[0] as number) + i);
      const first = phrases[run[0] ?? -1];
      const last = phrases[run[run.length - 1] ?? -1];
      return first && last ? { from: first.start, until: last.end } : null;
    }
    const slices = chosenSlices(project, selection);
    if (slices.length === 0) return null;
    return {
      from: Math.min(...slices.map((one) => one.landing)),
      until: Math.max(...slices.map((one) => one.end)),
    };
  };

  const stop = () => {
    leftAt = sound.takeTime() ?? leftAt;
    wanted = false;
    sound.stop();
  };
  /** The newest wish is heard: a loop that was asked for before gives way to it. */
  const run = async (play: () => Promise<void>) => {
    wanted = false;
    await sound.wake();
    await play();
  };

  /** A word begins where none was, up to the next one or to the end of its line. */
  const beginSlice = (at: Seconds) => {
    const project = store.project();
    const phrases = store.heard()?.phrases ?? [];
    if (!project) return;
    const line = phrases.findLast((one) => one.start <= at);
    const next = project.slices.find((one) => one.start > at);
    const seconds = project.take.seconds;
    const end = Math.min(next?.start ?? seconds, Math.max(line?.end ?? seconds, at + 0.5), seconds);
    store.edit(addSlice({ start: at, landing: at, end }));
    const made = store.project()?.slices.find((one) => one.landing === at);
    if (!made) return messages.hint('There is no room for a slice there.');
    store.setSession({ selection: { kind: 'slices', ids: [made.id] } });
    messages.say(`A slice begins at ${figure(at, 2)} seconds.`);
  };

  const actions = {
    stretch,
    stop,
    playTake: () => {
      if (sound.playing() === 'take') return stop();
      const chosen = stretch();
      const from = chosen?.from ?? leftAt ?? reading.from();
      leftAt = null;
      void run(() => sound.playTake({ from: Math.max(0, from - 0.05) }));
    },
    playRound: () => {
      const chosen = stretch();
      if (chosen) void run(() => sound.playTake({ ...chosen, round: true }));
    },
    playLoop: () => {
      if (sound.playing() === 'loop') return sound.stop();
      void sound.wake();
      if (!store.project()?.lanes.length) actions.straight();
      if (desk.loop()) return void run(() => sound.playLoop());
      // What is not on its way would come at another time, when nobody asks for it.
      wanted = desk.rendering();
      if (!wanted && page.lane())
        messages.hint('The lane is empty: set words on it, then it is heard.');
    },
    playSeam: () => {
      if (sound.playing() === 'seam') return sound.stop();
      void run(() => sound.playSeam());
    },
    compare: () => {
      void run(() =>
        sound.playing() === 'comparison'
          ? sound.compare(sound.side() === 'loop' ? 'original' : 'loop')
          : sound.compare(),
      );
    },
    /** Space: stops what plays, or starts what was heard last. */
    toggle: () => {
      if (sound.playing() !== 'nothing') stop();
      else if (lastHeard === 'loop' && desk.loop()) actions.playLoop();
      else actions.playTake();
    },
    hear: () => {
      const project = store.project();
      const { selection } = store.session;
      if (!project) return;
      const slices = chosenSlices(project, selection);
      const chosen = stretch();
      const [only] = slices;
      if (only && slices.length === 1) void run(() => sound.playSlice(only, only.id));
      else if (chosen) void run(() => sound.playTake(chosen));
    },

    /** Sets the lines closer or wider, by about a quarter. */
    zoom: (way: 'closer' | 'wider') => {
      if (!store.heard()) return;
      const zoom = heldSpan(store.session.zoom * (way === 'closer' ? 0.8 : 1.25));
      store.setSession({ lines: 'one scale', zoom });
      messages.say(`${figure(zoom, 1)} seconds in the width of the sheet.`);
    },

    open: async () => {
      const files = await chooseFiles();
      if (files.length) await desk.openFiles(files);
    },
    undo: () => {
      const label = store.undo();
      messages.say(label ? `Took back: ${label}.` : 'Nothing to undo.');
    },
    redo: () => {
      const label = store.redo();
      messages.say(label ? `Did again: ${label}.` : 'Nothing to redo.');
    },

    /** What a split goes by now; the deed is called after it. */
    splitsAt: (): 'play head' | 'mark' | 'attack' =>
      sound.playing() === 'take' ? 'play head' : mark.at() ? 'mark' : 'attack',
    /**
     * Splits a word: at the play head while the take plays (where no word is, one begins there), else where
     * the mouse points (`by` keys), at the mark that a press has left, or at the clearest attack inside the
     * chosen word.
     */
    split: (by: 'word' | 'keys' = 'word') => {
      const project = store.project();
      const heard = store.heard();
      if (!project || !heard) return;
      const cut = (id: string, at: Seconds) => {
        const before = store.project();
        store.edit(splitSlice(id, at, heard.onsets));
        if (store.project() === before)
          return messages.hint('There is no room for a cut there: both parts would have to sound.');
        store.setSession({ selection: { kind: 'slices', ids: [id] } });
        messages.say(`Split at ${figure(at, 2)} seconds.`);
      };
      const now = sound.playing() === 'take' ? sound.takeTime() : null;
      const under = project.slices.findLast(
        (one) => now !== null && one.start < now && now < one.end,
      );
      if (under && now !== null) return cut(under.id, now);
      if (now !== null) return beginSlice(now);
      const spot = (by === 'keys' ? mark.pointed() : null) ?? mark.at();
      if (spot) return cut(spot.slice, spot.time);
      const [slice] = chosenSlices(project, store.session.selection);
      if (!slice)
        return messages.hint(
          'Press a word where it is to be cut, or let the take play: it splits at the play head.',
        );
      const inner = attacksIn(slice, heard.onsets);
      const clearest = inner.reduce<(typeof inner)[number] | null>(
        (best, one) => (best && best.strength >= one.strength ? best : one),
        null,
      );
      cut(slice.id, clearest ? clearest.time - beforeAttack : (slice.landing + slice.end) / 2);
    },
    /** Moves the mark in the chosen word to the attack before or after it, or by a hair. */
    moveMark: (way: -1 | 1, fine: boolean) => {
      const project = store.project();
      const [slice] = project ? chosenSlices(project, store.session.selection) : [];
      const onsets = store.heard()?.onsets;
      if (!slice || !onsets) return messages.hint('Choose a word first: the mark stands in it.');
      const stands = mark.at()?.time ?? null;
      const middle = (slice.landing + slice.end) / 2;
      let to = stands ?? middle;
      if (fine) to += way * 0.01;
      else {
        const from = stands ?? (way > 0 ? slice.landing : slice.end);
        const places = attacksIn(slice, onsets).map((one) => one.time - beforeAttack);
        to =
          (way > 0
            ? places.find((time) => time > from + 1e-6)
            : places.findLast((time) => time < from - 1e-6)) ?? to;
      }
      if (!cuttable(slice, to)) return;
      mark.set({ slice: slice.id, time: to });
      messages.say(`The mark stands at ${figure(to, 2)} seconds.`);
    },
    /** A beat is there: at the play head while the take plays, at the mark, or where the chosen word lands. */
    beatHere: () => {
      const project = store.project();
      if (!project || !store.heard()) return;
      const [slice] = chosenSlices(project, store.session.selection);
      const now = sound.playing() === 'take' ? sound.takeTime() : null;
      const at = now ?? mark.at()?.time ?? slice?.landing;
      if (at === undefined)
        return messages.hint('Choose a word first, or let the take play: the beat is set there.');
      store.edit(addBeat(at));
      if (now === null) store.setSession({ selection: { kind: 'beat', time: at } });
      messages.say(`A beat is set at ${figure(at, 2)} seconds.`);
    },
    /** Joins the chosen slices, or the only one with the one after it. */
    join: () => {
      const project = store.project();
      if (!project) return;
      const chosen = chosenSlices(project, store.session.selection);
      const [only] = chosen;
      const next = only && project.slices[project.slices.indexOf(only) + 1];
      const ids =
        chosen.length > 1 ? chosen.map((one) => one.id) : only && next ? [only.id, next.id] : [];
      if (ids.length === 0) return messages.hint('Choose the slices to join.');
      store.edit(joinSlices(ids));
      store.setSession({ selection: { kind: 'slices', ids: ids.slice(0, 1) } });
      messages.say('Joined.');
    },
    /** A straight loop of what is chosen, or of the first line in view. */
    straight: () => {
      const phrases = store.heard()?.phrases ?? [];
      const inView = phrases.find((one) => one.end > reading.from() + 0.1);
      const chosen = stretch() ?? (inView && { from: inView.start, until: inView.end });
      if (!chosen) return;
      const id = desk.makeStraight(chosen.from, chosen.until);
      if (id) messages.say('A straight loop stands on the lane.');
    },
    /** Sets the chosen slices on the lane, one after the other. */
    toLane: () => {
      const project = store.project();
      if (!project) return;
      const ids = chosenSlices(project, store.session.selection).map((one) => one.id);
      if (ids.length) placeByStep(page, ids);
    },
    fillRow: (row: number) => {
      const project = store.project();
      const { selection } = store.session;
      if (!project || selection.kind !== 'phrases') return;
      // Of every chosen line, whether they follow one another or not.
      const ids = project.slices
        .map((one) => one.id)
        .filter((id) => selection.indexes.includes((page.names().get(id)?.line ?? 0) - 1));
      store.edit(fillRow(row, ids));
    },

    /** Lines that are of one material with the chosen ones, and are not chosen yet. */
    returns: (): number[] => {
      const { selection } = store.session;
      const phrases = store.heard()?.phrases ?? [];
      if (selection.kind !== 'phrases') return [];
      const root = (i: number): number => {
        const like = phrases[i]?.like;
        return like && like.phrase < i ? root(like.phrase) : i;
      };
      const roots = new Set(selection.indexes.map(root));
      return phrases.flatMap((_, i) =>
        roots.has(root(i)) && !selection.indexes.includes(i) ? [i] : [],
      );
    },
    chooseReturns: () => {
      const { selection } = store.session;
      if (selection.kind !== 'phrases') return;
      const indexes = [...selection.indexes, ...actions.returns()].sort((a, b) => a - b);
      store.setSession({ selection: { kind: 'phrases', indexes } });
    },

    /** Every word of the flip where the focus is on its lane, else every word of the take. */
    chooseAll: () => {
      const project = store.project();
      const lane = page.lane();
      if (!project) return;
      const flip = lane?.source.kind === 'flip' ? lane : null;
      const there = document.activeElement?.closest('.lane') ? flip : null;
      const ids = (there ? placementsOf(there) : project.slices).map((one) => one.id);
      if (ids.length === 0) return;
      store.setSession({
        selection: there ? { kind: 'placements', lane: there.id, ids } : { kind: 'slices', ids },
      });
      messages.say(`${opening(counted(ids.length, 'word'))} chosen.`);
    },
    /** The slice or the line after the last chosen one is chosen too, for a finger, which has no Shift. */
    chooseNext: () => {
      const project = store.project();
      const { selection } = store.session;
      if (selection.kind === 'phrases') {
        const next = Math.max(...selection.indexes) + 1;
        if (next < (store.heard()?.phrases.length ?? 0))
          store.setSession({ selection: { ...selection, indexes: [...selection.indexes, next] } });
      } else if (selection.kind === 'slices' && project) {
        const last = project.slices.findLastIndex((one) => selection.ids.includes(one.id));
        const next = project.slices[last + 1];
        if (next)
          store.setSession({ selection: { ...selection, ids: [...selection.ids, next.id] } });
      }
    },

    doubts: () =>
      (store.heard()?.beats ?? []).filter(
        (one) => one.by === 'heard' && one.confidence < doubtBelow,
      ),
    /** Walks to the next beat that the tool doubts, after the chosen one. */
    nextDoubt: () => {
      const doubts = actions.doubts();
      const { selection } = store.session;
      const after = selection.kind === 'beat' ? selection.time : reading.from() - 1;
      const next = doubts.find((one) => one.time > after + 1e-6) ?? doubts[0];
      if (!next) return messages.say('No beat is doubtful.');
      store.setSession({ selection: { kind: 'beat', time: next.time } });
      if (next.time < reading.from() || next.time > reading.until()) reading.goTo(next.time);
      messages.say(`A doubtful beat, ${Math.round(next.confidence * 100)} percent sure.`);
    },
  };

  createEffect(() => {
    const loop = desk.loop();
    if (!loop && desk.rendering()) return;
    // Where none is on its way any more, nobody waits for the next one.
    const asked = wanted;
    wanted = false;
    if (loop && asked) void sound.playLoop();
  });

  let lastHeard: 'take' | 'loop' = 'take';
  return {
    ...actions,
    /** Told what plays, so that Space can start it again. */
    remember: (playing: Playing) => {
      if (playing === 'take' || playing === 'loop') lastHeard = playing;
    },
  };
}

export type Actions = ReturnType<typeof createActions>;

export const useActions = (): Actions => usePage().actions;
