import type { Seconds } from '../math/units.ts';
import type { Audio } from './audio.ts';

/** What is there of a recording whose end is missing, and how much there should be where its file says so. */
export interface CutOff {
  readonly held: Seconds;
  readonly promised: Seconds | null;
}

/** What a recording is that was stored with loss: its samples, written again with 24 bits. */
export interface LossyFile {
  readonly audio: Audio;
  readonly bits: 24;
  readonly float: false;
  /** Null where its end is there. */
  readonly cutOff: CutOff | null;
}
