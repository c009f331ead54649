import type { Chance } from './chance.ts';
import type { Score, ScoreNote } from './score.ts';

/**
 * Gives a pianist's piece a bass player who follows: the left hand stays the pianist's, and the bass
 * plays the lowest note of each bar on its first beat, often one in the middle, now and then a pickup.
 */
export function withBassPlayer(chance: Chance, score: Score): Score {
  const notes: ScoreNote[] = score.notes.map((note) =>
    note.part === 'bass' ? { ...note, part: 'chords', accent: note.accent + 2 } : note,
  );
  for (let bar = score.firstBar; bar < score.beats; bar += score.beatsPerBar) {
    const inBar = score.notes.filter(
      (note) => note.part === 'bass' && note.at >= bar && note.at < bar + score.beatsPerBar,
    );
    const root = inBar.reduce((low, note) => Math.min(low, note.pitch), 127);
    if (root === 127) continue;
    const add = (at: number, length: number, pitch: number, accent: number): void => {
      notes.push({ at: bar + at, length, pitch, part: 'bass', accent });
    };
    const low = root > 43 ? root - 12 : root;
    const half = Math.floor(score.beatsPerBar / 2);
    if (chance.odds(0.92)) add(0, half || 1, low, 2);
    if (half > 0 && chance.odds(0.5)) add(half, half, low + chance.pick([0, 7, 7, -5]), -2);
    if (chance.odds(0.2)) add(score.beatsPerBar - 0.5, 0.45, low + chance.pick([-2, -1, 2, 5]), -8);
  }
  return { ...score, notes: notes.sort((a, b) => a.at - b.at || a.pitch - b.pitch) };
}
