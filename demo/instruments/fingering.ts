import type { PlayedNote } from '../performance.ts';

/** The lowest string is let down a tone, to D. */
const openStrings = [38, 45, 50, 55, 59, 64];
const highestFret = 14;

/** One string: its open note and what is played on it, in the order of time. */
export interface Fingered {
  readonly open: number;
  readonly played: PlayedNote[];
}

/**
 * Gives every note a string, lowest string first: one that can sound it and that no other note of
 * the same chord takes, near where the hand is, and rather not one that still rings with
 * another note.
 */
export function fingerNotes(notes: readonly PlayedNote[]): Fingered[] {
  const strings: Fingered[] = openStrings.map((open) => ({ open, played: [] }));
  let hand = 2;
  for (const note of notes) {
    const midi = note.midi;
    if (midi === undefined) continue;
    let best: Fingered | undefined;
    let least = Number.POSITIVE_INFINITY;
    for (const string of strings) {
      const fret = midi - string.open;
      if (fret < 0 || fret > highestFret) continue;
      const last = string.played[string.played.length - 1];
      const since = last ? note.time - last.time : 10;
      const taken = since < 0.12 ? 100 : last?.midi === midi ? 0 : 3 * Math.max(0, 1 - since);
      const cost = Math.abs(fret - hand) * (fret === 0 ? 0.2 : 1) + 0.15 * fret + taken;
      if (cost < least) {
        least = cost;
        best = string;
      }
    }
    if (!best) throw new RangeError(`The guitar has no note ${midi}.`);
    best.played.push(note);
    const fret = midi - best.open;
    if (fret > 0) hand += 0.3 * (fret - hand);
  }
  return strings;
}
