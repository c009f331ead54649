import type { NamedSlice } from '../../../shared/cut/slice.ts';
import type { Phrase } from '../../../shared/hear/heard.ts';

/** A slice as it is spoken of: its line and its place in the line, both from 1. */
export interface SliceName {
  readonly line: number;
  readonly word: number;
}

/** Names every slice by the phrase its landing stands in (the one before it, between phrases). */
export function nameSlices(
  slices: readonly NamedSlice[],
  phrases: readonly Phrase[],
): ReadonlyMap<string, SliceName> {
  const names = new Map<string, SliceName>();
  let line = 0;
  let word = 0;
  for (const slice of slices) {
    while (line + 1 < phrases.length && slice.landing >= phrases[line + 1].start - 0.05) {
      line += 1;
      word = 0;
    }
    word += 1;
    names.set(slice.id, { line: line + 1, word });
  }
  return names;
}

/** "3·5" on a word of the lane. */
export const shortName = (name: SliceName | undefined): string =>
  name ? `${name.line}·${name.word}` : '';

/** "line 3, slice 5" in a sentence. */
export const longName = (name: SliceName | undefined): string =>
  name ? `line ${name.line}, slice ${name.word}` : 'a slice';

const intervals = [
  '',
  'a semitone',
  'a tone',
  'a minor third',
  'a major third',
  'a fourth',
  'a tritone',
  'a fifth',
  'a minor sixth',
  'a major sixth',
  'a minor seventh',
  'a major seventh',
  'an octave',
];

/** What a line repeats: "line 1 again, a fourth up". */
export function likeness(phrase: Phrase): string | null {
  if (!phrase.like) return null;
  const { semitones } = phrase.like;
  const size = Math.abs(Math.round(semitones));
  const again = `line ${phrase.like.phrase + 1} again`;
  if (size === 0) return again;
  return `${again}, ${intervals[size] ?? `${size} semitones`} ${semitones > 0 ? 'up' : 'down'}`;
}
