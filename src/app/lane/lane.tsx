import { createMemo, createSignal, For, onCleanup, onMount, Show } from 'solid-js';
import { beatsOf } from '../../../shared/loop/length.ts';
import { pointsPerBeat } from '../../../shared/time/grid.ts';
import {
  changePlacements,
  movePlacements,
  removePlacements,
} from '../../store/placement-commands.ts';
import { InkCanvas } from '../ink/ink-canvas.tsx';
import { usePage } from '../page/context.ts';
import { longName, shortName } from '../page/naming.ts';
import { orNothing } from '../page/selecting.ts';
import { useLack } from '../sentence/nothing-heard.tsx';
import { positionWords } from '../sentence/other-sentences.tsx';
import { figure, opening } from '../sentence/words.ts';
import { chooseAmong, type How } from '../sheet/choosing.ts';
import { drawLane, laneMeasure } from './draw-lane.ts';
import { createLaneHands } from './lane-hands.ts';
import { LaneSentence } from './lane-sentence.tsx';
import type { LaneWord } from './lane-words.ts';
import { onGrid, placeByStep } from './placing.ts';
import { Versions } from './versions.tsx';
import './lane.css';

/** The loop being made: its sentence, its words against bars and beats, and its versions. */
export function LaneRegion() {
  const page = usePage();
  const { desk, sound, colours, frames, names, lane, carrying, actions, reading, setting } = page;
  const { passingBy } = page;
  const { store } = desk;
  const lack = useLack();
  let paper!: HTMLDivElement;
  let head!: HTMLDivElement;
  const [width, setWidth] = createSignal(0);

  const selected = createMemo((): ReadonlySet<string> => {
    const { selection } = store.session;
    if (selection.kind === 'placements' && selection.lane === lane()?.id)
      return new Set(selection.ids);
    if (selection.kind === 'slices' && lane()?.source.kind === 'straight')
      return new Set(selection.ids);
    return new Set();
  });
  const beats = () => {
    const now = lane();
    return now ? beatsOf(now) : 16;
  };
  const beatAtX = (x: number) => {
    const box = paper.getBoundingClientRect();
    return ((x - box.left) / box.width) * beats();
  };
  const inside = (x: number, y: number) => {
    const box = paper.getBoundingClientRect();
    return x >= box.left && x <= box.right && y >= box.top && y <= box.bottom;
  };
  const dropAt = (x: number) => {
    const now = lane();
    const beat = Math.max(0, beatAtX(x));
    return now ? Math.min(onGrid(beat, now), beats() - 0.25) : Math.round(beat);
  };

  let anchor: string | null = null;
  const choose = (word: LaneWord, how: How) => {
    const now = lane();
    if (!now) return;
    const { selection } = store.session;
    const kind = word.placement ? 'placements' : 'slices';
    const before = selection.kind === kind ? selection.ids : [];
    const all = setting().words.map((one) => one.id);
    const { next: ids, ...result } = chooseAmong(all, before, { one: word.id, how, anchor });
    anchor = result.anchor;
    store.setSession({
      selection: orNothing(
        word.placement ? { kind: 'placements', lane: now.id, ids } : { kind: 'slices', ids },
      ),
    });
  };
  const hands = createLaneHands({
    page,
    lane,
    words: () => setting().words,
    beatAt: beatAtX,
    beatWidth: () => width() / beats(),
    choose,
  });

  const focusWord = (id: string) =>
    queueMicrotask(() => paper.querySelector<HTMLElement>(`[data-word="${id}"]`)?.focus());
  const key = (event: KeyboardEvent) => {
    const now = lane();
    const words = setting().words;
    const held = (event.target as HTMLElement).dataset.word;
    const at = words.findIndex((word) => word.id === held);
    const word = words[at];
    if (!now || !word) return;
    // What was only passed by is chosen by the first key that means it.
    if (!selected().has(word.id) && /^(Arrow(Left|Right)|Enter|Delete|Backspace)$/.test(event.key))
      choose(word, 'only');
    const ids = words.filter((one) => selected().has(one.id)).map((one) => one.id);
    const step = (event.key === 'ArrowLeft' ? -1 : 1) / pointsPerBeat(now.grid);
    const sideways = event.key === 'ArrowLeft' || event.key === 'ArrowRight';
    if (sideways && event.altKey && event.shiftKey && word.placement) {
      const length = Math.max(0.125, (word.placement.length ?? word.until - word.at) + step);
      store.edit(changePlacements(now.id, ids, { length: onGrid(length, now) || length }));
      const made = setting().words.find((one) => one.id === word.id)?.placement?.length;
      if (made) page.messages.say(`${figure(made, 2)} beats long.`);
    } else if (sideways && event.altKey) {
      store.edit(movePlacements(now.id, ids, step));
      const moved = setting().words.find((one) => one.id === word.id) ?? word;
      page.messages.say(`${opening(positionWords(moved.at, now.beatsPerBar))}.`);
    } else if (sideways) {
      const next = words[at + (event.key === 'ArrowLeft' ? -1 : 1)];
      if (next) {
        choose(next, event.shiftKey ? 'range' : 'only');
        focusWord(next.id);
      }
    } else if (event.key === 'Enter' && !event.altKey)
      void sound.playSlice(word.slice, word.slice.id);
    else if ((event.key === 'Delete' || event.key === 'Backspace') && word.placement) {
      store.edit(removePlacements(now.id, ids));
      store.setSession({ selection: { kind: 'nothing' } });
      // The focus goes on with the word that is there now.
      const next = setting().words[Math.min(at, setting().words.length - 1)];
      if (next) focusWord(next.id);
    } else return;
    event.preventDefault();
    event.stopPropagation();
  };

  onMount(() => {
    const watch = new ResizeObserver(() => setWidth(paper.clientWidth));
    watch.observe(paper);
    onCleanup(() => watch.disconnect());
    onCleanup(
      carrying.onDrop(({ slices }, x, y) => {
        if (!inside(x, y)) return false;
        placeByStep(page, slices, dropAt(x));
        return true;
      }),
    );
    onCleanup(
      frames.follow(() => {
        const time = sound.loopTime();
        const now = lane();
        head.classList.toggle('on', time !== null && now !== null);
        if (time === null || !now) return;
        const beat = (time * now.bpm) / 60;
        head.style.setProperty('transform', `translateX(${(beat / beats()) * width()}px)`);
      }),
    );
  });

  const carried = () => {
    const now = carrying.carried();
    return now && inside(now.x, now.y) ? dropAt(now.x) : null;
  };
  const x = (beat: number) => (beat / beats()) * (width() - 1);
  /** What a straight loop would be made of now. */
  const lineAtHand = () => {
    const { selection } = store.session;
    if (selection.kind === 'phrases' && selection.indexes.length > 1) return 'the chosen lines';
    if (selection.kind === 'slices') return 'the chosen slices';
    const first = store.heard()?.phrases.findIndex((one) => one.end > reading.from() + 0.1) ?? 0;
    return `line ${(selection.kind === 'phrases' ? (selection.indexes[0] ?? 0) : Math.max(0, first)) + 1}`;
  };
  const ids = createMemo(() => setting().words.map((word) => word.id));
  const entry = () => ids().find((id) => selected().has(id)) ?? ids()[0];

  return (
    <section class="lane" aria-label="Lane">
      <Show
        when={lane()}
        fallback={
          <p class="lane-empty">
            The lane is empty
            <Show when={store.heard() && lack() !== 'sound'} fallback=".">
              :{' '}
              <Show
                when={(store.heard()?.beats.length ?? 0) > 1}
                fallback={
                  <button type="button" class="inline" onClick={() => page.setTapping(true)}>
                    tap the beat along first
                  </button>
                }
              >
                <button type="button" class="inline" onClick={actions.straight}>
                  set {lineAtHand()} on it
                </button>
              </Show>
              , or carry words here.
            </Show>
          </p>
        }
      >
        {(now) => (
          <div class="lane-said">
            <LaneSentence lane={now()} />
            <p class="lane-seam note" aria-live="polite">
              {desk.rendering()
                ? 'setting the loop …'
                : desk.loop()
                  ? `seam: ${desk.loop()?.seam}`
                  : ''}
            </p>
          </div>
        )}
      </Show>
      {/* biome-ignore lint/a11y/noStaticElementInteractions: the hand works on the whole lane; its words are true buttons. */}
      <div
        class="lane-paper"
        classList={{ ruled: lane() === null }}
        ref={paper}
        onPointerDown={hands.down}
        onPointerMove={hands.move}
        onPointerUp={hands.up}
        onPointerCancel={hands.cancel}
        onKeyDown={key}
      >
        <InkCanvas
          class="lane-ink"
          draw={(surface) => {
            const now = lane();
            const heard = store.heard();
            if (!now || !heard) return;
            drawLane(surface, {
              lane: now,
              setting: setting(),
              peaks: heard.peaks,
              colours: colours(),
              selected: selected(),
              passing: page.passing(),
              name: (word) => shortName(names().get(word.slice.id)),
              carried: carried(),
            });
          }}
        />
        <For each={ids()}>
          {(id) => {
            const word = createMemo(() => setting().words.find((one) => one.id === id));
            return (
              <button
                type="button"
                class="lane-word"
                data-word={id}
                tabindex={entry() === id ? 0 : -1}
                aria-pressed={selected().has(id)}
                aria-label={`${longName(names().get(word()?.slice.id ?? ''))} on ${positionWords(word()?.at ?? 0, lane()?.beatsPerBar ?? 4)}`}
                style={{
                  left: `${x(word()?.from ?? 0) + 2}px`,
                  width: `${Math.max(3, x(word()?.until ?? 0) - x(word()?.from ?? 0) - 3)}px`,
                  top: `${laneMeasure(page.colours().rem).top}px`,
                  bottom: `${laneMeasure(page.colours().rem).foot}px`,
                }}
                onFocus={() => {
                  const now = word();
                  if (now && !passingBy() && !selected().has(id)) choose(now, 'only');
                }}
              />
            );
          }}
        </For>
        <Show when={lane()?.source.kind === 'flip' && setting().words.length === 0}>
          <p class="lane-hint note">
            {sound.recording() === 'no'
              ? 'Carry words here, press one and set it on the lane, or play it in on the pads.'
              : 'Play the pads.'}
          </p>
        </Show>
        <div class="head-line" ref={head} />
      </div>
      <Versions />
    </section>
  );
}
