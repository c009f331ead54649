import type { Seconds } from '../../math/units.ts';
import type { Levels } from './features.ts';
import type { Attack } from './picking.ts';
import { bringsNew, type Rise, rowsAround } from './rises.ts';

/** As sure as this the ear is not asked again. */
const SURE = 0.995;
/** Something new has come in where the bands rise over what lay there as long as one sway lasts. */
const NEW: Rise = {
  before: Array.from({ length: 19 }, (_, i) => i - 20),
  after: [2, 3],
  enough: 1.5,
};
/** Stretches of frames round an attack, every third of which is looked at, in which it may sway. */
const STRETCHES = [
  [-71, -2],
  [-45, 45],
  [2, 71],
] as const;
const STEP = 3;
/** Lags at which it then is as it was (120 to 240 ms, 4 to 8 sways a second), and at which it is otherwise, in steps. */
const SAME = { from: 4, until: 8 };
const OTHER = { from: 2, until: 4 };
/** How much liker the first are than the second, as correlations, averaged over the bands. */
const SWAYING = 0.85;
/** A band that lies this many doublings over the floor is heard. */
const HEARD = 1;

/**
 * Leaves out attacks that are but a sway of a held tone, of a voice, a bow or a reed: the bands rise and fall four to
 * eight times a second (vibrato is at 5 to 7: J. Sundberg, The Science of the Singing Voice, 1987, from memory), and
 * nothing comes in that was not there within the sway before, in the band or beside it (the maximum filter of Boeck and
 * Widmer, DAFx-13, taken over a sway). Notes that are struck as quickly bring something new, or the ear is sure of them.
 *
 * @param levels the longest view's
 */
export function outOfVibrato(attacks: readonly Attack[], levels: Levels): Attack[] {
  return attacks.filter(
    ({ time, sureness }) =>
      sureness >= SURE ||
      bringsNew(levels, time, NEW) ||
      !STRETCHES.some((frames) => sways(levels, time, frames)),
  );
}

function sways(levels: Levels, time: Seconds, [from, until]: readonly [number, number]): boolean {
  const { bands, data } = levels;
  const row = rowsAround(levels, time);
  const rows: number[] = [];
  for (let frame = from; frame <= until; frame += STEP) rows.push(row(frame));
  const n = rows.length;
  const x = new Float64Array(n);
  let sway = 0;
  let heard = 0;
  for (let b = 0; b < bands; b++) {
    let mean = 0;
    for (let i = 0; i < n; i++) {
      x[i] = data[rows[i] + b];
      mean += x[i] / n;
    }
    if (mean < HEARD) continue;
    let power = 0;
    for (let i = 0; i < n; i++) {
      x[i] -= mean;
      power += x[i] * x[i];
    }
    if (power < 1e-6) continue;
    let same = Number.NEGATIVE_INFINITY;
    let other = Number.POSITIVE_INFINITY;
    for (let lag = OTHER.from; lag <= SAME.until; lag++) {
      const alike = correlation(x, lag) / power;
      if (lag >= SAME.from) same = Math.max(same, alike);
      if (lag <= OTHER.until) other = Math.min(other, alike);
    }
    sway += same - other;
    heard++;
  }
  return sway > SWAYING * heard;
}

/** Sum of the products of numbers `lag` apart, made up for those that reach beyond the end. */
function correlation(x: Float64Array, lag: number): number {
  let sum = 0;
  for (let i = 0; i + lag < x.length; i++) sum += x[i] * x[i + lag];
  return (sum * x.length) / (x.length - lag);
}
