import type { Decibels, Seconds } from '../../shared/math/units.ts';
import { secondsOf } from '../../shared/take/audio.ts';
import type { Buffers } from './buffers.ts';
import type { Graph } from './engine.ts';
import { makePlayback, type Playback, sampleAhead } from './playback.ts';
import type { LoopSource, Matched, SoundSource } from './sound.ts';

/** How the two sides give way to each other. */
const change: Seconds = 0.012;
/** From a press until the other side takes over. */
const handover: Seconds = 0.03;

/**
 * How much each side is turned down so that both are equally loud (ITU-R BS.1770 integrated): the louder
 * one comes down, nothing is turned up. A side that has no loudness is left alone.
 */
export function matchLoudness(original: Decibels, loop: Decibels): Matched {
  const difference = original - loop;
  const known = Number.isFinite(difference);
  return {
    original,
    loop,
    originalBy: known ? Math.min(0, -difference) : 0,
    loopBy: known ? Math.min(0, difference) : 0,
  };
}

/** A/B: the original stretch and the loop, both going round, one of them heard. */
export interface Comparison {
  readonly play: (
    graph: Graph,
    take: SoundSource,
    loop: LoopSource,
    side: 'original' | 'loop',
  ) => void;
  readonly stop: () => void;
  readonly forget: () => void;
  /** Positions at a moment of the context's clock: of the side that is heard. */
  readonly positionAt: (time: Seconds) => { side: 'original' | 'loop'; at: Seconds } | null;
}

export function createComparison(buffers: Buffers): Comparison {
  let now: {
    side: 'original' | 'loop';
    playback: Playback;
    from: Seconds;
    length: Seconds;
  } | null = null;

  return {
    play: (graph, take, loop, side) => {
      const audio = side === 'loop' ? loop.mix : take.mix;
      const buffer = buffers.of(audio);
      const old = now;
      const at = sampleAhead(graph, handover);
      // The other side goes on at the same place of the music, told by its share of the whole.
      const share = old ? (old.playback.positionAt(at) - old.from) / old.length : 0;
      const matched = matchLoudness(loop.original.loudness, loop.loudness);
      const gain = 10 ** ((side === 'loop' ? matched.loopBy : matched.originalBy) / 20);
      const destination = new graph.tone.Gain({ context: graph.context, gain });
      destination.connect(graph.out);
      const whole = secondsOf(audio);
      const from = side === 'loop' ? 0 : Math.max(0, loop.original.from ?? 0);
      const until = side === 'loop' ? whole : Math.min(loop.original.until ?? whole, whole);
      const length = Math.max(until - from, 0.02);
      const playback = makePlayback({
        graph,
        destination,
        at: old ? at : undefined,
        from: from + Math.min(Math.max(share, 0), 0.999) * length,
        until,
        round: { start: from, whole: side === 'loop' },
      });
      // The old one goes when the new one is really there: a busy page may be late.
      const there = playback.join(side, buffer, true);
      old?.playback.stop(change, there);
      now = { side, playback, from, length };
    },
    stop: () => {
      now?.playback.stop(change);
      now = null;
    },
    forget: () => {
      now = null;
    },
    positionAt: (time) =>
      now && { side: now.side, at: now.playback.positionAt(Math.max(time, now.playback.began())) },
  };
}
