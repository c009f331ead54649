import type { Chance } from './chance.ts';
import { type Chord, nearest } from './harmony.ts';
import type { ScoreNote } from './score.ts';

/** Ways to accompany, common practice, no source. */
export const textures = [
  'blocks',
  'rolled',
  'broken',
  'wide',
  'waltz',
  'stride',
  'repeated',
  'sparse',
  'runs',
  'walking',
  'held',
  'alone',
  'syncopated',
] as const;
export type Texture = (typeof textures)[number];

interface Bar {
  readonly chord: Chord;
  readonly start: number;
  readonly beats: number;
  readonly triple: boolean;
}

/** A close-position chord around a pitch. */
function voiced(chord: Chord, centre: number): number[] {
  const pitches = chord.classes.map((c) => nearest(centre, [c]));
  return [...new Set(pitches)].sort((a, b) => a - b);
}

function chordAt(
  at: number,
  length: number,
  pitches: readonly number[],
  accent: number,
  roll: boolean,
) {
  return pitches.map((pitch, index): ScoreNote => {
    const note = { at, length, pitch, part: 'chords', accent } as const;
    return roll ? { ...note, spread: { index, count: pitches.length } } : note;
  });
}

/** One bar of accompaniment. */
export function accompany(chance: Chance, texture: Texture, bar: Bar): ScoreNote[] {
  const { chord, start, beats } = bar;
  const root = nearest(40 + chance.whole(-3, 3), [chord.root]);
  const fifth = nearest(root + 7, chord.classes);
  const close = voiced(chord, 55);
  const bass = (at: number, length: number, pitch = root, accent = 0): ScoreNote => ({
    at: start + at,
    length,
    pitch,
    part: 'bass',
    accent,
  });
  const roll = chance.odds(0.5);
  switch (texture) {
    case 'blocks': {
      const notes: ScoreNote[] = [];
      const each = chance.pick([1, 1, 2]);
      for (let at = 0; at < beats; at += each) {
        notes.push(...chordAt(start + at, each, close, at ? -4 : 2, roll && at === 0));
        if (at === 0 || chance.odds(0.5)) notes.push(bass(at, each, at ? fifth : root));
      }
      return notes;
    }
    case 'rolled': {
      const tall = [root, fifth, ...voiced(chord, 58)];
      const notes = tall.map(
        (pitch, index): ScoreNote => ({
          at: start,
          length: beats,
          pitch,
          part: index < 2 ? 'bass' : 'chords',
          accent: index ? -3 : 2,
          spread: { index, count: tall.length },
        }),
      );
      if (chance.odds(0.4)) notes.push(...chordAt(start + beats - 1, 1, close, -8, false));
      return notes;
    }
    case 'broken':
    case 'wide': {
      const divide = bar.triple
        ? 3
        : texture === 'wide'
          ? chance.pick([2, 4])
          : chance.pick([2, 4, 4]);
      const ladder =
        texture === 'wide'
          ? [root, fifth, root + 12, ...voiced(chord, 60)]
          : [root, ...voiced(chord, 54)];
      const turn = [...ladder, ...ladder.slice(1, -1).reverse()];
      const count = Math.round(beats * divide);
      return Array.from({ length: count }, (_, i): ScoreNote => {
        const pitch = turn[i % turn.length] ?? root;
        const low = pitch === root;
        const held = low ? beats - i / divide : 1.5 / divide;
        return {
          at: start + i / divide,
          length: held,
          pitch,
          part: low ? 'bass' : 'chords',
          accent: i === 0 ? 4 : i % divide ? -6 : -2,
        };
      });
    }
    case 'waltz': {
      const notes = [bass(0, 1, root, 4)];
      for (let at = 1; at < beats; at++) notes.push(...chordAt(start + at, 0.7, close, -6, false));
      return notes;
    }
    case 'stride': {
      const notes: ScoreNote[] = [];
      for (let at = 0; at < beats; at++) {
        if (at % 2 === 0) notes.push(bass(at, 0.9, at % 4 ? fifth - 12 : root, 3));
        else notes.push(...chordAt(start + at, 0.6, close, -5, false));
      }
      return notes;
    }
    case 'repeated': {
      const notes = [bass(0, beats)];
      for (let at = 0; at < beats; at += 0.5) {
        notes.push(...chordAt(start + at, 0.5, close, at % 1 ? -9 : -5, false));
      }
      return notes;
    }
    case 'sparse': {
      const notes = [bass(0, beats, root, -6)];
      if (chance.odds(0.6))
        notes.push(...chordAt(start + chance.pick([1, 1.5, 2]), 1, close, -8, roll));
      return notes;
    }
    case 'held': {
      const chordNotes = chordAt(start, beats, close, -4, roll);
      return [bass(0, beats), ...(chance.odds(0.7) ? chordNotes : [])];
    }
    case 'alone':
      return chance.odds(0.25) ? [bass(0, beats, root, -10)] : [];
    case 'syncopated': {
      const notes = chance.odds(0.8) ? [bass(0, 1.4)] : [bass(0.5, 1)];
      for (let at = 0.5; at < beats; at += chance.pick([1, 1, 1.5])) {
        notes.push(...chordAt(start + at, 0.8, close, -6, roll && chance.odds(0.3)));
      }
      if (beats > 2 && chance.odds(0.5)) notes.push(bass(beats - 1.5, 1.4, fifth));
      return notes;
    }
    case 'runs': {
      const notes = chordAt(start, beats, [root, fifth], 0, false);
      notes.push(...chordAt(start + Math.floor(beats / 2), 1, close, -6, false));
      return notes;
    }
    case 'walking': {
      const line = [
        root,
        nearest(root + 4, chord.classes),
        fifth,
        root + chance.pick([10, 12, 11]),
      ];
      const notes: ScoreNote[] = [];
      for (let at = 0; at < beats; at++) {
        notes.push(bass(at, 0.95, line[at % 4] ?? root, at % 2 ? 2 : 0));
        if (chance.odds(0.12)) notes.push(bass(at + 0.67, 0.3, root, -14));
      }
      for (const at of chance.pick([[0], [1.5], [0.67, 2], [1, 2.67], [3.67], []] as const)) {
        if (at < beats) notes.push(...chordAt(start + at, 0.6, close, -4, false));
      }
      return notes;
    }
  }
}

/** General MIDI percussion keys that a brush or stick player uses here. */
export const drum = { kick: 36, tap: 38, brush: 40, hat: 44, ride: 51, closed: 42 } as const;

/** One bar of brushes: a light ride, hat on the even beats, taps between, ghost notes. */
export function brushes(chance: Chance, start: number, beats: number, swing: boolean): ScoreNote[] {
  const notes: ScoreNote[] = [];
  const hit = (at: number, pitch: number, accent: number): void => {
    notes.push({ at: start + at, length: 0.25, pitch, part: 'drums', accent });
  };
  for (let at = 0; at < beats; at++) {
    if (chance.odds(0.8)) hit(at, chance.odds(0.6) ? drum.brush : drum.ride, at % 2 ? 4 : 0);
    if (at % 2 === 1 && chance.odds(0.75)) hit(at, drum.hat, -4);
    if (chance.odds(at % 2 ? 0.55 : 0.2)) hit(at + (swing ? 2 / 3 : 0.5), drum.ride, -10);
    if (chance.odds(0.1)) hit(at + chance.pick([0.25, 0.5, 0.75]), drum.tap, -30);
  }
  if (chance.odds(0.35)) hit(0, drum.kick, 0);
  return notes;
}
