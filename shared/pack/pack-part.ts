import { type Audio, lengthOf } from '../take/audio.ts';
import { bitsLike, type WavBits } from '../take/wav-write.ts';
import type { StatedFile } from './manifest.ts';
import type { PackRecording } from './pack-input.ts';
import type { PackWishes } from './pack-wishes.ts';
import type { ZipEntry } from './zip-write.ts';

/** A part of the performance: the mix, or a stem. */
export interface Part {
  readonly recording: PackRecording;
  readonly label: string;
  readonly variant: string | null;
}

/** Puts a file, by its path in the pack, under the pack's folder. */
export type MakeEntry = (file: string, bytes: ZipEntry['bytes']) => ZipEntry;

/** How a part's loops and slices are stored. */
export function bitsOf(wishes: PackWishes, recording: PackRecording): WavBits {
  return wishes.bits ?? bitsLike(recording);
}

/** What the manifest says of a sound file. */
export function soundFile(
  file: string,
  part: string,
  variant: string | null,
  audio: Audio,
  bits: WavBits,
): StatedFile {
  return {
    file,
    part,
    variant,
    sampleRate: audio.sampleRate,
    channels: audio.channels.length,
    samples: lengthOf(audio),
    bits,
  };
}
