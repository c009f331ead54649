import type { Audio } from './audio.ts';

/** A mono recording on `count` channels (which share their memory); others are returned as they are. */
export function widen(audio: Audio, count: number): Audio {
  const [first] = audio.channels;
  if (audio.channels.length !== 1 || count === 1) return audio;
  return { sampleRate: audio.sampleRate, channels: Array.from({ length: count }, () => first) };
}

/** Takes back `widen`: what was mono and went through equal treatment on all channels is mono again. */
export function narrow(audio: Audio, count: number): Audio {
  if (audio.channels.length <= count) return audio;
  return { sampleRate: audio.sampleRate, channels: audio.channels.slice(0, count) };
}
