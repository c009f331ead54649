import type { Pad } from '../cut/pad.ts';
import type { NamedSlice } from '../cut/slice.ts';
import type { Beat, Key, Loudness, Onset, Phrase, Tuning } from '../hear/heard.ts';
import type { Lane } from '../loop/lane.ts';
import type { Samples } from '../math/units.ts';
import type { Audio } from '../take/audio.ts';

/** A recording to be packed: its samples, and the file as it came, asked for when its turn comes. */
export interface PackRecording {
  readonly name: string;
  readonly hash: string;
  readonly audio: Audio;
  /** How long its file is, where `audio` was cut or filled up to the length of the take. */
  readonly samples?: Samples;
  readonly bits: number;
  readonly float: boolean;
  readonly bytes: () => Uint8Array | Promise<Uint8Array>;
  /** The same piece by piece, where it lies on a disk; a piece holds until the next one is taken. */
  readonly pieces?: () => Iterable<Uint8Array>;
}

/** A stem; `variant` tells apart other versions of one part (dry, wet, another performance). */
export interface PackStem extends PackRecording {
  readonly label: string;
  readonly variant: string | null;
}

/** What a pack says of what was heard. */
export interface PackedHeard {
  readonly onsets: readonly Onset[];
  readonly beats: readonly Beat[];
  readonly phrases: readonly Phrase[];
  readonly tuning: Tuning;
  /** Of each stem on its own, where heard. */
  readonly stemTunings?: readonly Tuning[];
  readonly key: Key;
  readonly loudness: Loudness;
}

/** The same without what that was heard from: tens of megabytes for some minutes. */
export function packedHeard(heard: PackedHeard): PackedHeard {
  const { onsets, beats, phrases, tuning, stemTunings, key, loudness } = heard;
  return { onsets, beats, phrases, tuning, stemTunings, key, loudness };
}

/** Everything that a pack is made of. */
export interface PackInput {
  readonly name: string;
  /** ISO 8601 moment of the project's last change: every date in the pack. */
  readonly changed: string;
  readonly take: PackRecording;
  readonly stems: readonly PackStem[];
  readonly heard: PackedHeard;
  readonly slices: readonly NamedSlice[];
  readonly pads: readonly Pad[];
  readonly lanes: readonly Lane[];
}
