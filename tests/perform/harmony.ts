import type { Chance } from './chance.ts';

const scales = {
  major: [0, 2, 4, 5, 7, 9, 11],
  minor: [0, 2, 3, 5, 7, 8, 10],
} as const;

/** A chord: pitch classes from the root up, within a key. */
export interface Chord {
  readonly root: number;
  readonly classes: readonly number[];
}

/**
 * Four-bar successions of scale steps (0 = tonic), common practice, no source; each ends on what the
 * next phrase can follow. A quarter of the bars get a second chord.
 */
const openings = [
  [0, 3, 4, 0],
  [0, 5, 3, 4],
  [0, 5, 1, 4],
  [0, 2, 3, 4],
  [5, 3, 0, 4],
  [3, 4, 2, 5],
  [1, 4, 0, 5],
  [0, 4, 5, 3],
];
const closings = [
  [3, 4, 0, 0],
  [1, 4, 0, 0],
  [5, 1, 4, 0],
  [3, 1, 4, 0],
];

export function progression(chance: Chance, bars: number, closes: boolean): number[] {
  const steps: number[] = [];
  while (steps.length < bars) steps.push(...chance.pick(openings));
  steps.length = bars;
  if (closes) {
    const closing = chance.pick(closings);
    for (let i = 0; i < Math.min(4, bars); i++) {
      steps[bars - 1 - i] = closing[closing.length - 1 - i] ?? 0;
    }
  }
  return steps;
}

/** Triad (or seventh chord) on a scale step; the dominant of a minor key has its leading tone. */
export function chordOn(
  step: number,
  tonic: number,
  mode: 'major' | 'minor',
  seventh: boolean,
): Chord {
  const scale = scales[mode];
  const classes: number[] = [];
  for (let third = 0; third < (seventh ? 4 : 3); third++) {
    const degree = step + 2 * third;
    let semitones = scale[degree % 7] ?? 0;
    if (mode === 'minor' && step === 4 && third === 1) semitones += 1;
    classes.push((tonic + semitones) % 12);
  }
  return { root: classes[0] ?? tonic, classes };
}

/** The nearest note of a set of pitch classes to a pitch. */
export function nearest(pitch: number, classes: readonly number[]): number {
  for (let away = 0; away < 12; away++) {
    for (const candidate of [pitch - away, pitch + away]) {
      if (classes.includes(((candidate % 12) + 12) % 12)) return candidate;
    }
  }
  return pitch;
}

/** Pitch classes of a key. */
export function scaleOf(tonic: number, mode: 'major' | 'minor'): number[] {
  return scales[mode].map((step) => (tonic + step) % 12);
}

/** Moves a pitch by steps along a scale. */
export function stepAlong(pitch: number, steps: number, classes: readonly number[]): number {
  let at = nearest(pitch, classes);
  for (let left = Math.abs(steps); left > 0; left--) {
    do at += Math.sign(steps);
    while (!classes.includes(((at % 12) + 12) % 12));
  }
  return at;
}
