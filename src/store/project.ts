import type { Pad } from '../../shared/cut/pad.ts';
import type { NamedSlice } from '../../shared/cut/slice.ts';
import type { Fix } from '../../shared/hear/heard.ts';
import type { Lane } from '../../shared/loop/lane.ts';
import type { Hertz, Percent, Seconds } from '../../shared/math/units.ts';
import type { PackWishes } from '../../shared/pack/pack-wishes.ts';

/** A recording that a project uses. The samples live beside the document, found by `hash` (SHA-256 of the file, hex). */
export interface SourceFile {
  readonly hash: string;
  /** The file's name as it came, with its ending. */
  readonly name: string;
  readonly sampleRate: Hertz;
  readonly channels: number;
  readonly seconds: Seconds;
}

/** One instrument's track on the take's timeline. `variant` tells apart other versions of one part (dry, wet, another performance). */
export interface StemFile extends SourceFile {
  readonly label: string;
  readonly variant: string | null;
}

/**
 * The whole of a project but its samples: plain JSON, versioned. What can be heard again from the
 * samples (onsets, beats, phrases) is not in it; what the user said about it (`fixes`) is.
 */
export interface Project {
  readonly version: 1;
  readonly id: string;
  readonly name: string;
  /** ISO 8601 moments. */
  readonly created: string;
  readonly changed: string;
  readonly take: SourceFile;
  readonly stems: readonly StemFile[];
  readonly fixes: readonly Fix[];
  /** Few (0) to many (100) suggested cuts. */
  readonly cuts: Percent;
  readonly slices: readonly NamedSlice[];
  readonly pads: readonly Pad[];
  readonly lanes: readonly Lane[];
  /** What is wished of the pack; nothing where it was never said. */
  readonly pack?: PackWishes;
}
