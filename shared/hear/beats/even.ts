import type { Seconds } from '../../math/units.ts';
import { LOOSE, playersNear } from './refine.ts';

/** How firmly the tempo holds beside one onset that carries a beat: weight of a squared step of tempo. */
const FIRM = 8;
/** How firmly a beat that is known holds, likewise: it may lie off the tempo itself. */
const KNOWN = 10;
/** Times that players near a beat are looked for, each time nearer to where the tempo has it. */
const ROUNDS = 3;
/** So many known beats behind them hold the next ones. */
const HELD = 8;
/** A beat nobody plays counts so little. */
const SILENT = 1e-6;
/** Beats near which less is played say nothing of how the tempo moves. */
const HEARD = 0.05;
/** Firmness from which players keep their tempo, whose own inexactness is what moves them. */
const KEEPS = 3;
/** Powers of two between which firmness is looked for, and steps of them. */
const SOFTEST = -1.5;
const FIRMEST = 10.5;
const GRID = 0.75;

/** For each beat where the players around it are in the mean, and how much that counts. */
interface Observed {
  readonly at: Float64Array;
  readonly weight: Float64Array;
}

/**
 * Whether these are players who keep a tempo, and what moves their beats is that nobody is exact, rather than
 * players who all follow a tempo that moves. Each step of tempo is taken for a draw from one normal distribution,
 * each player's distance from the beat from another; how the two compare is told by the likelihood of the beats as
 * a filter foretells them (Schweppe 1965, IEEE Transactions on Information Theory 11).
 *
 * @param times beats in rising order
 * @param odds log odds of each onset to carry a beat
 */
export function keepsTempo(
  times: readonly Seconds[],
  onsets: Float64Array,
  odds: Float64Array,
): boolean {
  if (times.length < 2 * HELD) return false;
  const seen = observe(times, times, () => false, onsets, odds);
  let firmness = 0;
  let most = -Infinity;
  for (let power = SOFTEST; power <= FIRMEST; power += GRID) {
    const likely = likelihood(seen, 2 ** power);
    if (likely > most) {
      most = likely;
      firmness = 2 ** power;
    }
  }
  return firmness >= KEEPS;
}

/**
 * Puts the beats of players who keep a tempo where the players around each and an even tempo together have them:
 * the least sum of squared distances and of squared steps of tempo (Whittaker 1923, Proceedings of the Edinburgh
 * Mathematical Society 41).
 *
 * @param times beats in rising order; they are moved where they lie
 * @param free from this beat on beats may move; those before hold the next ones
 * @param fixed times that stay
 * @param odds log odds of each onset to carry a beat
 */
export function evenBeats(
  times: Seconds[],
  free: number,
  fixed: ReadonlySet<Seconds>,
  onsets: Float64Array,
  odds: Float64Array,
): void {
  const from = Math.max(0, free - HELD);
  const before = times.slice(from);
  const known = (i: number) => from + i < free || fixed.has(before[i]);
  let now = before;
  for (let round = 0; round < ROUNDS; round++) {
    const even = evened(observe(before, now, known, onsets, odds), FIRM);
    // What is far from even is a turn of the tempo, not one player's inexactness.
    now = before.map((time, i) => (known(i) || Math.abs(even[i] - time) > LOOSE ? time : even[i]));
  }
  for (const [i, time] of now.entries()) times[from + i] = time;
}

function observe(
  before: readonly Seconds[],
  now: readonly Seconds[],
  known: (i: number) => boolean,
  onsets: Float64Array,
  odds: Float64Array,
): Observed {
  const at = Float64Array.from(before);
  const weight = new Float64Array(before.length).fill(KNOWN);
  for (const [i, time] of now.entries()) {
    if (known(i)) continue;
    const { sum, total } = playersNear(onsets, odds, time, 1);
    weight[i] = total + SILENT;
    at[i] = (sum + SILENT * time) / weight[i];
  }
  return { at, weight };
}

/**
 * Natural log of how likely the beats are, where each is foretold from those before; a constant is left out. The
 * state is a beat and the interval before it, beginning with the first two beats.
 */
function likelihood({ at, weight }: Observed, firmness: number): number {
  let beat = at[1];
  let interval = at[1] - at[0];
  let varBeat = 1 / weight[1];
  let both = varBeat;
  let varInterval = 1 / weight[0] + 1 / weight[1];
  let squares = 0;
  let logs = 0;
  let count = 0;
  for (let i = 2; i < at.length; i++) {
    beat += interval;
    varBeat += 2 * both + varInterval + 1 / firmness;
    both += varInterval + 1 / firmness;
    varInterval += 1 / firmness;
    if (weight[i] < HEARD) continue;
    const spread = varBeat + 1 / weight[i];
    const off = at[i] - beat;
    squares += (off * off) / spread;
    logs += Math.log(spread);
    count++;
    const gain = varBeat / spread;
    const gainInterval = both / spread;
    beat += gain * off;
    interval += gainInterval * off;
    varInterval -= gainInterval * both;
    both -= gain * both;
    varBeat -= gain * varBeat;
  }
  return -0.5 * (count * Math.log(squares / count) + logs);
}

/** Solves for the evened beats: a symmetric matrix of five diagonals, by its factors L D L'. */
function evened({ at, weight }: Observed, firmness: number): Float64Array {
  const n = at.length;
  const main = weight.slice();
  const next = new Float64Array(n);
  const second = new Float64Array(n);
  const out = at.map((time, i) => time * weight[i]);
  for (let i = 1; i + 1 < n; i++) {
    main[i - 1] += firmness;
    main[i] += 4 * firmness;
    main[i + 1] += firmness;
    next[i - 1] -= 2 * firmness;
    next[i] -= 2 * firmness;
    second[i - 1] += firmness;
  }
  for (let i = 0; i < n; i++) {
    if (i > 0) {
      main[i] -= next[i - 1] ** 2 * main[i - 1];
      next[i] -= second[i - 1] * next[i - 1] * main[i - 1];
      out[i] -= next[i - 1] * out[i - 1];
    }
    if (i > 1) {
      main[i] -= second[i - 2] ** 2 * main[i - 2];
      out[i] -= second[i - 2] * out[i - 2];
    }
    next[i] /= main[i];
    second[i] /= main[i];
  }
  for (let i = n - 1; i >= 0; i--) {
    out[i] /= main[i];
    if (i + 1 < n) out[i] -= next[i] * out[i + 1];
    if (i + 2 < n) out[i] -= second[i] * out[i + 2];
  }
  return out;
}
