import type { Decibels, Hertz } from '../math/units.ts';
import type { WavBits } from '../take/wav-write.ts';

/** How the files lie in the zip: as they are, with the texts deflated, or all deflated but the recordings as they came. */
export const packings = ['stored', 'texts', 'deflated'] as const;
export type Packing = (typeof packings)[number];

/** What the user may ask of a pack. Whatever is left out has a good default. */
export interface PackWishes {
  /** What the whole is called; the project's name where left out. */
  readonly title?: string;
  readonly artist?: string;
  /** As the maker types them. */
  readonly credits?: string;
  readonly terms?: string;
  /** Loops and slices; as the take is stored where left out. */
  readonly bits?: WavBits;
  /** Loops and slices; the take's where left out. */
  readonly sampleRate?: Hertz;
  /** Integrated loudness that each loop's mix is brought to, its stems by as much; as it is where left out. */
  readonly loudness?: Decibels;
  /** Slices of every stem too, not of the mix alone. */
  readonly stemSlices?: boolean;
  /** With words in braces, see `loopWords`. */
  readonly loopName?: string;
  /** With words in braces, see `sliceWords`. */
  readonly sliceName?: string;
  /** `texts` where left out. */
  readonly packing?: Packing;
}

/** What all is called: as it is wished where that says something, else as the project is. */
export function titleOf(wishes: PackWishes, project: string): string {
  return wishes.title?.trim() || project;
}

/** Words that stand in braces for a value in the name of a loop's file. */
export const loopWords = ['take', 'lane', 'bpm', 'key', 'bars', 'stem'] as const;
/** The same for a slice. */
export const sliceWords = ['take', 'line', 'place', 'note', 'stem'] as const;

/** Rates that a session runs at by common practice (no source); others can be asked of the command. */
export const commonRates: readonly Hertz[] = [44100, 48000, 88200, 96000];

/** The softest and the loudest that a loop may be asked to be, in LUFS. */
export const softest: Decibels = -40;
export const loudest: Decibels = -6;

/** The longest that a line (title, artist, name) and a text (credits, terms) may be, in characters. */
export const longestLine = 200;
export const longestText = 20_000;

/** What keeps a template from being one, in a sentence with what to do; null where it is good. */
export function templateProblem(template: string, words: readonly string[]): string | null {
  const known = words.map((word) => `{${word}}`).join(' ');
  if (template.length > longestLine)
    return `A name template has at most ${longestLine} characters; shorten it.`;
  for (const [, word] of template.matchAll(/\{([^{}]*)\}/g))
    if (!words.includes(word)) return `{${word}} stands for nothing here; use ${known}.`;
  const bare = template.replace(/\{[^{}]*\}/g, '');
  if (/[{}]/.test(bare)) return `A brace is open in the name template; use ${known}.`;
  if (bare === template) return `Every file would have one name; use ${known}.`;
  return null;
}
