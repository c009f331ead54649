import type { Beats, Share } from '../shared/math/units.ts';

/**
 * The demo's shorthand. A bar is a string of tokens that divide its beats evenly.
 *
 *   D4        a note (letter, b or #, octave; C4 is middle C, 60)
 *   D2+A3+F4  a chord
 *   ~E4       slurred from the note before (wind)
 *   .         goes on      -  silence from here on
 *   ! after a note: leaned on      , after a note: hardly touched
 *
 * Strokes on the drum are D (low, open), T (rim), S (slap), and small letters for ghosts.
 */
export interface Token {
  /** Distance from the start of the phrase's first whole bar; pickups are negative. */
  readonly at: Beats;
  /** Until the next token that is no `.`. */
  readonly length: Beats;
  /** The names in it: one, or several of a chord; empty for a silence. */
  readonly names: readonly string[];
  readonly slurred: boolean;
  /** 0 as written, 1 leaned on, -1 hardly touched. */
  readonly weight: -1 | 0 | 1;
}

/** Reads bars that follow each other from `from` on, each `beatsPerBar` long. */
export function readBars(bars: readonly string[], from: Beats, beatsPerBar: Beats): Token[] {
  const marks: { at: Beats; text: string }[] = [];
  bars.forEach((bar, index) => {
    const texts = bar.split(/\s+/).filter((text) => text !== '');
    texts.forEach((text, place) => {
      if (text !== '.')
        marks.push({ at: from + beatsPerBar * (index + place / texts.length), text });
    });
  });
  const end = from + beatsPerBar * bars.length;
  return marks.map(({ at, text }, index) => {
    const length = (marks[index + 1]?.at ?? end) - at;
    const bare = text.replace(/^~/, '').replace(/[!,]$/, '');
    return {
      at,
      length,
      names: bare === '-' ? [] : bare.split('+'),
      slurred: text.startsWith('~'),
      weight: text.endsWith('!') ? 1 : text.endsWith(',') ? -1 : 0,
    };
  });
}

const steps: Record<string, number> = { C: 0, D: 2, E: 4, F: 5, G: 7, A: 9, B: 11 };

/** MIDI note number of a name such as `Bb3` (60 is C4). */
export function midiOf(name: string): number {
  const read = /^([A-G])([b#]?)(\d)$/.exec(name);
  const step = read ? steps[read[1]] : undefined;
  if (!read || step === undefined) throw new RangeError(`"${name}" is no note.`);
  const bend = read[2] === '#' ? 1 : read[2] === 'b' ? -1 : 0;
  return 12 * (Number(read[3]) + 1) + step + bend;
}

/** A level between the bar lines' levels, by straight lines. */
export function levelAt(levels: readonly Share[], bar: number): Share {
  const place = Math.min(Math.max(bar, 0), levels.length - 1);
  const index = Math.min(Math.floor(place), levels.length - 2);
  const share = place - index;
  return levels[index] * (1 - share) + levels[index + 1] * share;
}
