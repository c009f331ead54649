import type { TimeMap } from '../../../shared/time/time-map.ts';
import { warp } from '../../../shared/warp/warp.ts';

declare global {
  interface Window {
    setTake: (channels: readonly string[]) => void;
    warpTake: (map: TimeMap, length: number) => void;
  }
}

const take = { sampleRate: 44100, channels: [new Float32Array(0)] };

/** In the browser: what will be warped, as float32 in base 64. */
window.setTake = (channels) => {
  take.channels = channels.map((text) => {
    const bytes = Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
    return new Float32Array(bytes.buffer);
  });
};

window.warpTake = (map, length) => {
  const [audio] = warp([take], map, length);
  // Looked at, so that nothing is left undone.
  if (!(Math.abs(audio.channels[0][length >> 1]) < 2)) throw new Error('The warp came out wrong.');
};
