import type { Seconds } from '../../shared/math/units.ts';
import type { Graph } from './engine.ts';
import { makeVoice, type Voice } from './voice.ts';

type GainNode = InstanceType<Graph['tone']['Gain']>;

/**
 * Several recordings of one timeline that play as one: the mix and its stems, the loop and a plain
 * beat. Parts may join while it runs and fall in to the sample.
 */
export interface Playback {
  /** The position at a moment of the context's clock. */
  readonly positionAt: (time: Seconds) => Seconds;
  /** The context's time at which it began, known once its first part has joined. */
  readonly began: () => Seconds;
  readonly has: (part: string) => boolean;
  /** Returns the context's time at which the part falls in. */
  readonly join: (part: string, buffer: AudioBuffer, audible: boolean) => Seconds;
  readonly setAudible: (part: string, audible: boolean) => void;
  readonly leave: (part: string) => void;
  readonly stop: (fade: Seconds, at?: Seconds) => void;
  /** Told when it came to its end by itself. */
  readonly onEnd: (listener: () => void) => void;
}

export interface PlaybackOptions {
  readonly graph: Graph;
  readonly destination: GainNode;
  /** The context's time at which it begins, come what may; as soon as it can, by default. */
  readonly at?: Seconds;
  readonly from: Seconds;
  /** Where it ends, or turns back to `start` when it goes round. */
  readonly until: Seconds;
  /** Goes round between `start` and `until`; null: once. The whole buffer goes round to the sample. */
  readonly round: { readonly start: Seconds; readonly whole: boolean } | null;
}

/** Starts and stops that are no cut of the music get this much fade, so that they don't click. */
export const softly: Seconds = 0.008;
/** From a wish to play until it sounds, so that all parts start on one sample. */
const soon: Seconds = 0.02;
/** How far ahead a part that joins later is started, and how far at most when the page is slow. */
const ahead: Seconds = 0.03;
const farthestAhead: Seconds = 1;

/** The moment of a whole sample that lies at least so far ahead. */
export function sampleAhead({ native }: Graph, headway: Seconds): Seconds {
  return Math.ceil((native.currentTime + headway) * native.sampleRate) / native.sampleRate;
}

export function makePlayback(options: PlaybackOptions): Playback {
  const { graph, destination, from, until, round } = options;
  let at = options.at ?? graph.native.currentTime + soon;
  const parts = new Map<string, { voice: Voice; gate: GainNode }>();
  const listeners: (() => void)[] = [];
  let stopped = false;

  const positionAt = (time: Seconds): Seconds => {
    const position = from + (time - at);
    if (!round || position < until) return Math.min(position, until);
    const length = until - round.start;
    return round.start + ((position - round.start) % length);
  };

  /** Starts a part where the others are. If the page was held up meanwhile, it would be late for good, so it is started again, farther ahead. */
  const startInTime = (
    buffer: AudioBuffer,
    audible: boolean,
    headway: Seconds,
  ): { voice: Voice; gate: GainNode; start: Seconds } => {
    const gate = new graph.tone.Gain({ context: graph.context, gain: audible ? 1 : 0 });
    // A part that joins later starts on a moment that is still to come, on a whole sample.
    const start = graph.native.currentTime < at ? at : sampleAhead(graph, headway);
    // As long as nothing sounds, being late costs nothing of the music.
    if (options.at === undefined && parts.size === 0) at = start;
    const position = positionAt(start);
    const voice = makeVoice(graph, {
      buffer,
      destination: gate,
      at: start,
      offset: position,
      fadeIn: position > 0 ? softly : 0,
      ...(round
        ? { round: round.whole ? { from: 0, until: 0 } : { from: round.start, until } }
        : { duration: until - position, fadeOut: softly }),
    });
    if (graph.native.currentTime >= start && headway < farthestAhead) {
      voice.stop(0);
      gate.dispose();
      return startInTime(buffer, audible, 2 * headway);
    }
    // Heard only now: what comes late is never let out.
    gate.connect(destination);
    return { voice, gate, start };
  };

  return {
    positionAt,
    began: () => at,
    has: (part) => parts.has(part),
    join: (part, buffer, audible) => {
      if (parts.has(part) || stopped) return at;
      const { voice, gate, start } = startInTime(buffer, audible, ahead);
      const mine = { voice, gate };
      parts.set(part, mine);
      voice.onEnd(() => {
        gate.dispose();
        if (parts.get(part) !== mine) return;
        parts.delete(part);
        if (parts.size === 0 && !stopped) for (const listener of listeners) listener();
      });
      return start;
    },
    setAudible: (part, audible) => parts.get(part)?.gate.gain.rampTo(audible ? 1 : 0, 0.01),
    leave: (part) => {
      const gone = parts.get(part);
      parts.delete(part);
      gone?.voice.stop(softly);
    },
    stop: (fade, when) => {
      stopped = true;
      for (const { voice } of parts.values()) voice.stop(fade, when);
    },
    onEnd: (listener) => void listeners.push(listener),
  };
}
