import type { CutOff } from './lossy-file.ts';
import { readMp3Frames } from './mp3-frames.ts';
import { isMp3 } from './mp3-read.ts';
import { oggCutOff } from './ogg-end.ts';
import { isOgg } from './ogg-packets.ts';

/** Where a recording that is stored with loss is cut off; null where it is whole, or where that can't be told. */
export function cutOffOf(bytes: Uint8Array): CutOff | null {
  return isOgg(bytes) ? oggCutOff(bytes) : isMp3(bytes) ? readMp3Frames(bytes).cutOff : null;
}

/**
 * A sentence about a recording stored with loss whose end is missing: what is there of it can be used, so it is not
 * refused, as a WAV or FLAC file is that breaks its promise.
 */
export function cutOffNote({ held, promised }: CutOff, name: string): string {
  const is =
    promised === null
      ? `its end is missing after ${held.toFixed(2)} s`
      : `it promises ${promised.toFixed(2)} s of sound and holds ${held.toFixed(2)} s`;
  return `${name} is cut off: ${is}; what is there is used, copy or export it again to have it whole.`;
}
