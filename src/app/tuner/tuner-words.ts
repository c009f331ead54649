import { noteName } from '../../../shared/hear/pitch/note.ts';
import type { PlayedNote, TuningSummary } from '../../../shared/hear/pitch/pitch-track.ts';
import { clock, figure } from '../sentence/words.ts';

/** What nobody hears as out of tune in music (common practice, no source): a few cents. */
const inTune = 2;

/** "6 cents flat", "in tune". */
export function offWords(cents: number): string {
  const size = Math.round(Math.abs(cents));
  if (size === 0) return 'in tune';
  return `${figure(size)} cent${size === 1 ? '' : 's'} ${cents > 0 ? 'sharp' : 'flat'}`;
}

/** "E2 at 0:12". */
export const placeWords = (note: PlayedNote): string =>
  `${noteName(note.note)} at ${clock(note.start)}`;

/** Whether there is no note worth naming for being out of tune. */
export const allInTune = ({ worst }: TuningSummary): boolean => Math.abs(worst.cents) <= inTune;

/** "Most of it 6 cents flat, half of it within 3 cents of that". The worst note is named apart. */
export function usualWords(summary: TuningSummary): string {
  const { usual, spread } = summary;
  if (allInTune(summary)) return `All of it in tune, within ${inTune} cents`;
  const off = Math.abs(usual) <= inTune ? 'in tune' : offWords(usual);
  const within = Math.max(1, Math.round(spread));
  return `Most of it ${off}, half of it within ${within} cent${within === 1 ? '' : 's'} of that`;
}
