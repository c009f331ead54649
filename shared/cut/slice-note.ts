import { type HeardNote, hearNote } from '../hear/pitch/note.ts';
import { type Audio, lengthOf } from '../take/audio.ts';
import { excerpt } from '../take/excerpt.ts';
import { toSamples } from '../time/time-map.ts';
import type { Slice } from './slice.ts';

/** The note of a slice, and the stem that it was heard in, by place; null: in the mix. */
export interface SliceNote extends HeardNote {
  readonly stem: number | null;
}

/** A stem speaks for a slice where it has at least this share of the loudest stem's power there. */
const heardThrough = 0.25;

/** From its landing on: what leads in is another note, or none. */
const sounding = (audio: Audio, slice: Slice): Audio =>
  excerpt(
    audio,
    toSamples(slice.landing, audio.sampleRate),
    toSamples(slice.end, audio.sampleRate),
  );

/**
 * The note that a slice of the take plays. Where the players together make no single one, it is that of
 * the loudest stem that has one and is heard through the rest. Null where there is none.
 */
export function noteOfSlice(mix: Audio, stems: readonly Audio[], slice: Slice): SliceNote | null {
  const own = hearNote(sounding(mix, slice));
  if (own) return { ...own, stem: null };
  const parts = stems
    .map((stem, i) => {
      const sound = sounding(stem, slice);
      return { sound, power: powerOf(sound), stem: i };
    })
    .sort((a, b) => b.power - a.power);
  for (const { sound, power, stem } of parts) {
    if (power === 0 || power < parts[0].power * heardThrough) return null;
    const note = hearNote(sound);
    if (note) return { ...note, stem };
  }
  return null;
}

function powerOf(audio: Audio): number {
  let sum = 0;
  for (const channel of audio.channels)
    for (let i = 0; i < channel.length; i++) sum += channel[i] * channel[i];
  return sum / Math.max(1, lengthOf(audio) * audio.channels.length);
}
