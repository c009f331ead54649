import type { Beat } from '../../shared/hear/heard.ts';
import type { Seconds } from '../../shared/math/units.ts';
import { secondsOf } from '../../shared/take/audio.ts';
import type { Buffers } from './buffers.ts';
import type { Graph } from './engine.ts';
import { isHeard, type PartChoice, partsOf } from './parts.ts';
import { makePlayback, type Playback, softly } from './playback.ts';
import type { SoundSource, Stretch } from './sound.ts';
import { makeTakeClick } from './take-click.ts';

/** Plays the take: from anywhere, a stretch, round and round, its stems apart, with a click if wanted. */
export interface TakePlayer {
  readonly play: (graph: Graph, source: SoundSource, stretch: Stretch, ended: () => void) => void;
  readonly stop: () => void;
  readonly forget: () => void;
  readonly isPlaying: () => boolean;
  /** The position at a moment of the context's clock; null when nothing plays. */
  readonly positionAt: (time: Seconds) => Seconds | null;
  /** The same take with other stems: what plays goes on. */
  readonly exchangeStems: (source: SoundSource) => void;
  /** Brings what sounds in line with the chosen stems. */
  readonly chooseParts: () => void;
  readonly setClick: (on: boolean, beats: readonly Beat[]) => void;
}

export function createTakePlayer(buffers: Buffers, choice: PartChoice): TakePlayer {
  let now: { graph: Graph; source: SoundSource; playback: Playback; click: () => void } | null =
    null;
  let clickOn = false;
  let beats: readonly Beat[] = [];
  let startClick: (() => () => void) | null = null;

  const chooseParts = () => {
    if (!now) return;
    const { source, playback } = now;
    for (const { part, audio } of partsOf(source, choice)) {
      const heard = isHeard(source, choice, part);
      if (playback.has(part)) playback.setAudible(part, heard);
      else if (heard || part === 'mix') playback.join(part, buffers.of(audio), heard);
    }
    for (const { hash } of source.stems)
      if (playback.has(hash)) playback.setAudible(hash, isHeard(source, choice, hash));
  };

  const end = (fade: Seconds | null) => {
    const old = now;
    now = null;
    startClick = null;
    old?.click();
    if (fade !== null) old?.playback.stop(fade);
  };

  return {
    play: (graph, source, stretch, ended) => {
      end(softly);
      const whole = secondsOf(source.mix);
      const until = Math.min(stretch.until ?? whole, whole);
      const from = Math.min(Math.max(stretch.from ?? 0, 0), until);
      const round = stretch.round === true && until - from > 0.02;
      for (const { audio } of partsOf(source, choice)) buffers.of(audio);
      const playback = makePlayback({
        graph,
        destination: graph.out,
        from,
        until,
        round: round ? { start: from, whole: false } : null,
      });
      const mine = { graph, source, playback, click: () => {} };
      now = mine;
      chooseParts();
      startClick = () => makeTakeClick(graph, playback, { from, until, round }, () => beats).stop;
      if (clickOn) mine.click = startClick();
      playback.onEnd(() => {
        if (now !== mine) return;
        end(null);
        ended();
      });
    },
    stop: () => end(softly),
    forget: () => end(null),
    isPlaying: () => now !== null,
    positionAt: (time) => now?.playback.positionAt(Math.max(time, now.playback.began())) ?? null,
    exchangeStems: (source) => {
      if (!now) return;
      for (const { hash } of now.source.stems)
        if (!source.stems.some((stem) => stem.hash === hash)) now.playback.leave(hash);
      now.source = source;
      chooseParts();
    },
    chooseParts,
    setClick: (on, next) => {
      beats = next;
      if (on === clickOn) return;
      clickOn = on;
      if (!now) return;
      now.click();
      now.click = on && startClick ? startClick() : () => {};
    },
  };
}
