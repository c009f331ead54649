import type { Hertz, Samples, Seconds } from '../math/units.ts';

/** Samples of one recording: channels of one length, full scale at 1. */
export interface Audio {
  readonly sampleRate: Hertz;
  readonly channels: readonly Float32Array[];
}

/** Length in sample frames (0 when there are no channels). */
export function lengthOf(audio: Audio): Samples {
  return audio.channels[0]?.length ?? 0;
}

/** Length in seconds. */
export function secondsOf(audio: Audio): Seconds {
  return lengthOf(audio) / audio.sampleRate;
}

/** Silence of a given shape. */
export function silence(channels: number, length: Samples, sampleRate: Hertz): Audio {
  return { sampleRate, channels: Array.from({ length: channels }, () => new Float32Array(length)) };
}
