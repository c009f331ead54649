import type { Beats, Percent } from '../math/units.ts';

/** The note values notes may be tightened to; `t` marks triplets. A beat is a quarter. */
export type GridDivision = '4' | '8' | '8t' | '16' | '16t' | '32';

const perBeat: Record<GridDivision, number> = {
  '4': 1,
  '8': 2,
  '8t': 3,
  '16': 4,
  '16t': 6,
  '32': 8,
};

/** Every division, coarse to fine, for controls and for checking input. */
export const gridDivisions: readonly GridDivision[] = ['4', '8', '8t', '16', '16t', '32'];

/** How many grid points stand in one beat. */
export function pointsPerBeat(division: GridDivision): number {
  return perBeat[division];
}

/**
 * Swing as a bend of the time inside one beat: the middle of the beat moves to `swing` percent of it
 * (50 even, 66.7 the triplet's long and short), both halves stay even within themselves. Triplet grids
 * are left as they are. Monotone on all beats.
 */
export function swung(position: Beats, swing: Percent, division: GridDivision): Beats {
  if (swing === 50 || division.endsWith('t')) return position;
  const beat = Math.floor(position);
  const inside = position - beat;
  const middle = swing / 100;
  return beat + (inside < 0.5 ? inside * 2 * middle : middle + (inside - 0.5) * 2 * (1 - middle));
}

/** The grid point nearest to a position in beats (itself in beats, swing applied). */
export function nearestGridPoint(position: Beats, division: GridDivision, swing: Percent): Beats {
  const n = pointsPerBeat(division);
  let best = 0;
  let distance = Number.POSITIVE_INFINITY;
  const first = Math.floor(position * n) - n;
  for (let k = first; k <= first + 2 * n + 1; k++) {
    const point = swung(k / n, swing, division);
    const d = Math.abs(point - position);
    if (d < distance) {
      distance = d;
      best = point;
    }
  }
  return best;
}
