import type { Audio } from '../../shared/take/audio.ts';

/**
 * A recording in memory that page and workers read together, where the browser allows that; else as it
 * is, and each side gets a copy. It is only ever read.
 */
export function inSharedMemory(audio: Audio): Audio {
  if (typeof SharedArrayBuffer === 'undefined' || globalThis.crossOriginIsolated === false)
    return audio;
  return {
    sampleRate: audio.sampleRate,
    channels: audio.channels.map((channel) => {
      if (channel.buffer instanceof SharedArrayBuffer) return channel;
      const shared = new Float32Array(new SharedArrayBuffer(channel.byteLength));
      shared.set(channel);
      return shared;
    }),
  };
}
