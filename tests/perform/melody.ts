import { type Cell, fill, type Timed } from './cells.ts';
import type { Chance } from './chance.ts';
import { type Chord, nearest, stepAlong } from './harmony.ts';
import type { ScoreNote } from './score.ts';

export type Liveliness = 'slow' | 'even' | 'triple' | 'busy';

/** How one beat (or two) of a melody is filled: lengths in beats, negative for a rest. */
const cells: Record<Liveliness, readonly Cell[]> = {
  slow: [[1], [2], [2], [1.5, 0.5], [1], [-0.5, 0.5], [3], [0.5, 0.5], [4], [-1], [0.5, 1.5]],
  even: [[1], [0.5, 0.5], [1.5, 0.5], [0.5, 1, 0.5], [2], [-0.5, 0.5], [0.75, 0.25], [0.5, 0.5]],
  triple: [[1], [2 / 3, 1 / 3], [1 / 3, 1 / 3, 1 / 3], [2], [-1 / 3, 1 / 3, 1 / 3], [1]],
  busy: [
    [0.25, 0.25, 0.25, 0.25],
    [0.5, 0.25, 0.25],
    [0.5, 0.5],
    [1],
    [0.25, 0.25, 0.5],
    [0.75, 0.25],
    [1 / 6, 1 / 6, 1 / 6, 0.5],
  ],
};

/**
 * A melody over chords: a rhythm of which bars return, steps and small leaps, chord tones on the
 * beats, a long note at the end; now and then a grace note, a turn or a trill.
 */
export function melodyOver(
  chance: Chance,
  chords: readonly Chord[],
  scale: readonly number[],
  beatsPerBar: number,
  liveliness: Liveliness,
  centre: number,
  ornaments: number,
): ScoreNote[] {
  const notes: ScoreNote[] = [];
  const motif = fill(chance, cells[liveliness], beatsPerBar);
  let pitch = nearest(centre + chance.whole(-4, 4), chords[0]?.classes ?? scale);
  chords.forEach((chord, bar) => {
    const last = bar === chords.length - 1;
    const ending: Timed[] = [[0, Math.max(1, beatsPerBar - 1)]];
    const fresh =
      bar > 0 && chance.odds(0.5) ? fill(chance, cells[liveliness], beatsPerBar) : motif;
    for (const [at, length] of last ? ending : fresh) {
      const drift = pitch > centre + 7 ? -1 : pitch < centre - 7 ? 1 : chance.odds(0.5) ? 1 : -1;
      const steps = chance.odds(0.75) ? chance.whole(1, 2) : chance.whole(2, 4);
      pitch = stepAlong(pitch, drift * (chance.odds(0.08) ? 0 : steps), scale);
      if (Number.isInteger(at) && chance.odds(0.7)) pitch = nearest(pitch, chord.classes);
      const start = bar * beatsPerBar + at;
      const accent = (at === 0 ? 5 : 0) + (length >= 1 ? 3 : -2) + (pitch - centre) * 0.6;
      const note = { at: start, length, pitch, part: 'melody', accent } as const;
      if (length >= 0.9 && chance.odds(ornaments)) {
        notes.push(...ornamented(chance, note, scale));
      } else notes.push(note);
    }
  });
  return notes;
}

/** Grace note (before the beat), turn or trill (played at finger speed, not at the tempo's). */
function ornamented(chance: Chance, note: ScoreNote, scale: readonly number[]): ScoreNote[] {
  const above = stepAlong(note.pitch, 1, scale);
  const below = stepAlong(note.pitch, -1, scale);
  const kind = chance.whole(0, 3);
  if (kind <= 1) {
    return [{ ...note, pitch: kind ? above : below, length: 0.1, accent: -10, ornament: -1 }, note];
  }
  const shape = kind === 2 ? [note.pitch, above, note.pitch, below] : [above, note.pitch];
  const times = kind === 2 ? 1 : chance.whole(2, 4);
  const run = Array.from({ length: times }, () => shape).flat();
  return [...run, note.pitch].map((pitch, ornament) => ({
    ...note,
    pitch,
    ornament,
    accent: note.accent - (ornament ? 6 : 0),
    length: ornament === run.length ? note.length : 0.12,
  }));
}
