import type { Seconds } from '../../shared/math/units.ts';
import type { Graph } from './engine.ts';

/** One source of sound: a buffer through a gain of its own, which carries its level and its fades. */
export interface Voice {
  /** The context's time at which it began. */
  readonly began: Seconds;
  /** Fades out from a moment on (now, by default) and is gone. */
  readonly stop: (fade: Seconds, at?: Seconds) => void;
  /** Told once, when nothing of it sounds any more. */
  readonly onEnd: (listener: () => void) => void;
}

export interface VoiceOptions {
  readonly buffer: AudioBuffer;
  readonly destination: InstanceType<Graph['tone']['Gain']>;
  /** The context's time; now, by default. */
  readonly at?: Seconds;
  /** Where in the buffer it starts. @default 0 */
  readonly offset?: Seconds;
  /** How long it sounds, in the buffer's own seconds; to the end, by default. */
  readonly duration?: Seconds;
  /** @default 1 */
  readonly speed?: number;
  /** Linear. @default 1 */
  readonly gain?: number;
  readonly fadeIn?: Seconds;
  readonly fadeOut?: Seconds;
  /** Plays a stretch of the buffer round and round; both 0: the whole of it, to the sample. */
  readonly round?: { readonly from: Seconds; readonly until: Seconds };
}

export function makeVoice(graph: Graph, options: VoiceOptions): Voice {
  const { buffer, destination, offset = 0, speed = 1, gain = 1, round } = options;
  const { fadeIn = 0, fadeOut = 0 } = options;
  const source = graph.context.createBufferSource();
  source.buffer = buffer;
  source.playbackRate.value = speed;
  const envelope = graph.context.createGain();
  source.connect(envelope);
  graph.tone.connect(envelope, destination);

  // The moment of the next block: a voice that is to start now starts at its first sample.
  const now = graph.native.currentTime;
  const began = Math.max(options.at ?? now, now);
  const level = envelope.gain;
  // From the beginning of time: a start that lies a rounding before the level's would let one sample through as it is.
  level.setValueAtTime(fadeIn > 0 ? 0 : gain, 0);
  if (fadeIn > 0) {
    level.setValueAtTime(0, began);
    level.linearRampToValueAtTime(gain, began + fadeIn);
  }

  const listeners: (() => void)[] = [];
  let over = false;
  source.onended = () => {
    if (over) return;
    over = true;
    source.disconnect();
    envelope.disconnect();
    for (const listener of listeners) listener();
  };

  // Levels first and the start last: once it runs, the audio thread may look at them at any time.
  let ending = Number.POSITIVE_INFINITY;
  if (round) {
    source.loop = true;
    source.loopStart = round.from;
    source.loopEnd = round.until;
    source.start(began, offset);
  } else {
    const left = buffer.duration - offset;
    const duration = Math.max(Math.min(options.duration ?? left, left), 0);
    const lasts = duration / speed;
    ending = began + lasts;
    if (fadeOut > 0) {
      const fade = Math.min(fadeOut, lasts - Math.min(fadeIn, lasts));
      level.setValueAtTime(gain, ending - fade);
      level.linearRampToValueAtTime(0, ending);
    }
    source.start(began, offset, duration);
  }

  return {
    began,
    stop: (fade, at) => {
      const from = Math.max(at ?? 0, graph.native.currentTime);
      if (over || from + fade >= ending) return;
      ending = from + fade;
      const inFade = fadeIn > 0 && from < began + fadeIn;
      const value = inFade ? (gain * Math.max(0, from - began)) / fadeIn : gain;
      level.cancelScheduledValues(from);
      level.setValueAtTime(value, from);
      level.linearRampToValueAtTime(0, from + fade);
      source.stop(from + fade);
    },
    onEnd: (listener) => {
      if (over) listener();
      else listeners.push(listener);
    },
  };
}
