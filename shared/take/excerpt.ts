import type { Samples } from '../math/units.ts';
import { type Audio, lengthOf } from './audio.ts';

/** As `excerpt`, to be read only: where the recording has it all, its own memory. */
export function glimpse(audio: Audio, from: Samples, until: Samples): Audio {
  if (from < 0 || until > lengthOf(audio) || until < from) return excerpt(audio, from, until);
  return {
    sampleRate: audio.sampleRate,
    channels: audio.channels.map((channel) => channel.subarray(from, until)),
  };
}

/** Samples `from` (may be negative) to `until` (may lie beyond the end); silence where the recording has none. */
export function excerpt(audio: Audio, from: Samples, until: Samples): Audio {
  const length = Math.max(0, until - from);
  const first = Math.max(0, from);
  const last = Math.min(lengthOf(audio), until);
  return {
    sampleRate: audio.sampleRate,
    channels: audio.channels.map((channel) => {
      if (first === from && last === until) return channel.slice(first, last);
      const piece = new Float32Array(length);
      if (last > first) piece.set(channel.subarray(first, last), first - from);
      return piece;
    }),
  };
}
