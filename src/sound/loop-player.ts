import type { Lane } from '../../shared/loop/lane.ts';
import { beatsOf } from '../../shared/loop/length.ts';
import type { Beats, Seconds } from '../../shared/math/units.ts';
import { type Audio, lengthOf, secondsOf } from '../../shared/take/audio.ts';
import type { Buffers } from './buffers.ts';
import type { Graph } from './engine.ts';
import { isHeard, type PartChoice, partsOf } from './parts.ts';
import { renderPlainBeat } from './plain-beat.ts';
import { makePlayback, type Playback, sampleAhead, softly } from './playback.ts';
import type { LoopSource, PlainBeat } from './sound.ts';

/** Plays the loop round and round to the sample, with a plain beat under it if wanted. */
export interface LoopPlayer {
  /** Copies the loop into the graph beforehand: what is to start at a moment has no time for it then. */
  readonly prepare: (loop: LoopSource) => void;
  /** @param at the context's time at which it begins; a moment from now by default */
  readonly play: (graph: Graph, loop: LoopSource, options: { at?: Seconds; from: Seconds }) => void;
  /** A newer loop goes on at the same beat: when it takes over, and its position then; null where nothing is exchanged. */
  readonly exchange: (
    loop: LoopSource,
  ) => { readonly at: Seconds; readonly position: Seconds } | null;
  readonly playSeam: (graph: Graph, loop: LoopSource) => void;
  readonly stop: () => void;
  readonly forget: () => void;
  readonly positionAt: (time: Seconds) => Seconds | null;
  readonly chooseParts: () => void;
  readonly setPlainBeat: (beat: PlainBeat) => void;
}

const beatPart = 'plain beat';
/** From an edit until the newer loop takes over: long enough that a busy page has both told of it. */
const handover: Seconds = 0.12;
const secondsOfLoop = (lane: Lane): Seconds => (beatsOf(lane) * 60) / lane.bpm;

/** A lane on which nothing stands yet, as something that can be played to. */
export function silentLoop(lane: Lane, sampleRate: number): LoopSource {
  const length = Math.round(secondsOfLoop(lane) * sampleRate);
  const mix: Audio = { sampleRate, channels: [new Float32Array(length)] };
  return {
    lane,
    mix,
    stems: [],
    loudness: Number.NEGATIVE_INFINITY,
    original: { loudness: Number.NEGATIVE_INFINITY },
  };
}

/** The position in a newer loop at which the beat is that of a position in an older one. */
function sameBeat(position: Seconds, old: LoopSource, next: LoopSource): Seconds {
  const beats: Beats = (position * old.lane.bpm) / 60;
  return ((beats * 60) / next.lane.bpm) % secondsOf(next.mix);
}

/** The last beat, then the first, then half a beat of rest. */
function seamOf(loop: LoopSource): Audio {
  const { mix, lane } = loop;
  const length = lengthOf(mix);
  const beat = Math.min(Math.round((60 / lane.bpm) * mix.sampleRate), length);
  const fade = Math.min(Math.round(0.01 * mix.sampleRate), beat);
  return {
    sampleRate: mix.sampleRate,
    channels: mix.channels.map((channel) => {
      const seam = new Float32Array(Math.round(beat * 2.5));
      seam.set(channel.subarray(length - beat), 0);
      seam.set(channel.subarray(0, beat), beat);
      for (let i = 0; i < fade; i++) {
        seam[i] *= i / fade;
        seam[2 * beat - 1 - i] *= i / fade;
      }
      return seam;
    }),
  };
}

export function createLoopPlayer(buffers: Buffers, choice: PartChoice): LoopPlayer {
  let now: { graph: Graph; loop: LoopSource; playback: Playback; seam: boolean } | null = null;
  /** What sounds until the newer loop is there, the latest first. */
  let leaving: readonly { loop: LoopSource; playback: Playback }[] = [];
  let beat: PlainBeat = { kick: false, hat: false, click: false };

  const beatOf = (loop: LoopSource): AudioBuffer | null =>
    beat.kick || beat.hat || beat.click
      ? buffers.of(renderPlainBeat(loop.lane, beat, loop.mix.sampleRate))
      : null;
  const joinBeat = (buffer: AudioBuffer | null) => {
    if (!now || now.seam) return;
    now.playback.leave(beatPart);
    if (buffer) now.playback.join(beatPart, buffer, true);
  };

  /** Returns when the mix falls in, if it does. */
  const chooseParts = (): Seconds | null => {
    if (!now || now.seam) return null;
    let began: Seconds | null = null;
    const { loop, playback } = now;
    for (const { part, audio } of partsOf(loop, choice)) {
      const heard = isHeard(loop, choice, part);
      if (playback.has(part)) playback.setAudible(part, heard);
      else if (heard || part === 'mix') {
        const joined = playback.join(part, buffers.of(audio), heard);
        began ??= joined;
      }
    }
    return began;
  };

  const stop = (fade: Seconds | null) => {
    const old = now;
    now = null;
    leaving = [];
    if (fade !== null) old?.playback.stop(fade);
  };

  /** Returns when its first part falls in. */
  const start = (graph: Graph, loop: LoopSource, at: Seconds | undefined, from: Seconds) => {
    const until = secondsOf(loop.mix);
    const playback = makePlayback({
      graph,
      destination: graph.out,
      at,
      from,
      until,
      round: { start: 0, whole: true },
    });
    now = { graph, loop, playback, seam: false };
    return chooseParts() ?? playback.began();
  };

  const prepare = (loop: LoopSource) => {
    for (const { audio } of partsOf(loop, choice)) buffers.of(audio);
  };

  return {
    prepare,
    play: (graph, loop, { at, from }) => {
      stop(softly);
      prepare(loop);
      // Made before the loop begins, or its first stroke would come too late.
      const under = beatOf(loop);
      start(graph, loop, at, Math.min(Math.max(from, 0), secondsOf(loop.mix)));
      joinBeat(under);
    },
    exchange: (loop) => {
      if (!now || now.seam) return null;
      const { graph, loop: old, playback } = now;
      if (old.mix === loop.mix && old.stems.length === loop.stems.length) return null;
      prepare(loop);
      const under = beatOf(loop);
      // The new one takes over at one moment; both fade there, so that nothing clicks.
      const at = Math.max(sampleAhead(graph, handover), playback.began());
      const from = sameBeat(playback.positionAt(at), old, loop);
      const begun = playback.began() <= graph.native.currentTime;
      leaving = [{ loop: old, playback }, ...(begun ? [] : leaving)];
      // The old one goes when the new one is really there: a busy page may be late.
      playback.stop(softly, start(graph, loop, at, from));
      joinBeat(under);
      return { at, position: from };
    },
    playSeam: (graph, loop) => {
      stop(softly);
      const seam = seamOf(loop);
      const buffer = buffers.of(seam);
      const playback = makePlayback({
        graph,
        destination: graph.out,
        from: 0,
        until: secondsOf(seam),
        round: { start: 0, whole: true },
      });
      now = { graph, loop, playback, seam: true };
      playback.join('seam', buffer, true);
    },
    stop: () => stop(softly),
    forget: () => stop(null),
    positionAt: (time) => {
      if (!now) return null;
      if (time < now.playback.began()) {
        const still = leaving.find(({ playback }) => playback.began() <= time);
        return still ? sameBeat(still.playback.positionAt(time), still.loop, now.loop) : null;
      }
      const position = now.playback.positionAt(time);
      if (!now.seam) return position;
      // The seam counts as the loop's own last beat and its first.
      const length = secondsOf(now.loop.mix);
      const oneBeat = 60 / now.loop.lane.bpm;
      if (position < oneBeat) return length - oneBeat + position;
      return Math.min(position - oneBeat, oneBeat);
    },
    chooseParts,
    setPlainBeat: (next) => {
      beat = next;
      if (now) joinBeat(beatOf(now.loop));
    },
  };
}
