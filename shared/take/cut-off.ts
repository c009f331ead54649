import { readMp3Frames } from './mp3-frames.ts';
import { isMp3 } from './mp3-read.ts';
import { oggCutOff } from './ogg-end.ts';
import { isOgg } from './ogg-packets.ts';

/**
 * A sentence about a recording stored with loss whose end is missing: what is there of it can be used, so it is not
 * refused, as a WAV or FLAC file is that breaks its promise. Null where nothing is missing, or it can't be told.
 */
export function cutOffNote(bytes: Uint8Array, name: string): string | null {
  const found = isOgg(bytes) ? oggCutOff(bytes) : isMp3(bytes) ? readMp3Frames(bytes).cutOff : null;
  if (!found) return null;
  const { held, promised } = found;
  const is =
    promised === null
      ? `its end is missing after ${held.toFixed(2)} s`
      : `it promises ${promised.toFixed(2)} s of sound and holds ${held.toFixed(2)} s`;
  return `${name} is cut off: ${is}; what is there is used, copy or export it again to have it whole.`;
}
