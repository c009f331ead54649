import type { Seconds } from '../../../shared/math/units.ts';
import type { HeardPiece } from './heard-piece.ts';

/** Which note of those struck together is counted as the beat, or that another level is. */
export const countings = ['mean', 'first', 'last', 'lowest', 'highest', 'other'] as const;
export type Counting = (typeof countings)[number];

/** Notes with less between them are struck together, as long as they lie this near to the beat. */
const TOGETHER: Seconds = 0.05;
const NEAR: Seconds = 0.11;
/** A beat with no note as near is counted in silence. */
const SILENT: Seconds = 0.02;

/** The beats of a piece as somebody with another habit counts them; `mean` leaves them as they are. */
export function countedBeats(piece: HeardPiece, counting: Counting): readonly Seconds[] {
  const { beats, notes, other } = piece;
  if (counting === 'mean') return beats;
  if (counting === 'other') return other;
  const counted = beats.map((beat) => {
    let near = 0;
    for (let i = 1; i < notes.length; i++)
      if (Math.abs(notes[i][0] - beat) < Math.abs(notes[near][0] - beat)) near = i;
    if (Math.abs(notes[near][0] - beat) > SILENT) return beat;
    let from = near;
    let to = near;
    const joins = (i: number, k: number) =>
      Math.abs(notes[i][0] - notes[k][0]) < TOGETHER && Math.abs(notes[k][0] - beat) < NEAR;
    while (from > 0 && joins(from, from - 1)) from--;
    while (to + 1 < notes.length && joins(to, to + 1)) to++;
    const chord = notes.slice(from, to + 1);
    if (counting === 'first') return chord[0][0];
    if (counting === 'last') return chord[chord.length - 1][0];
    const sign = counting === 'lowest' ? -1 : 1;
    return chord.reduce((best, note) => (sign * (note[1] - best[1]) > 0 ? note : best))[0];
  });
  return counted.filter((time, i) => i === 0 || time > counted[i - 1] + TOGETHER);
}
