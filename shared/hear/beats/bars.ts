import type { Seconds, Share } from '../../math/units.ts';
import { CUE_NAMES, CUES } from './cues.ts';
import type { BeatEvidence } from './evidence.ts';
import { indexFrom } from './search.ts';
import { nearestBeat } from './state.ts';

/** Beats in a bar that are considered, and what each is worth before anything is heard (log odds). */
const METRES: readonly (readonly [number, number])[] = [
  [4, 2],
  [3, 1],
  [2, -1],
  [6, -2],
];
/** A take with fewer beats says nothing of its bars. */
const FEWEST = 12;
/** An onset this close to a beat is the beat's. */
const ON_BEAT: Seconds = 0.05;
/** What a beat without an onset counts as, and between what a cue is held. */
const SILENT = -1.2;
const HELD = [-2, 3] as const;
/** Beats on either side that a beat is measured against. */
const NEIGHBOURS = 3;
/** Players count as steady from here on. */
const STEADY_FROM: Share = 0.5;

const SOUND = [
  ...(['bassRise', 'highRise', 'strength', 'change', 'wait', 'rest'] as const),
  ...(['energy', 'energyOverNext', 'bands'] as const),
];
const SOUND_AT = SOUND.map((name) => CUE_NAMES.indexOf(name));
/** Beats before and after between which pitch classes change. */
const CHANGES = [1, 2, 3, 4] as const;
/** More onsets in a beat count as that many. */
const MOST_ONSETS = 6;
/**
 * Numbers that tell the first beat of a bar: one for each of `SOUND`, one for each of `CHANGES`, whether an onset
 * is on the beat, and how many are in it.
 */
export const MEASURES = SOUND.length + CHANGES.length + 2;

/** Weights of the measures, then the constant. */
type Weights = readonly number[];

/**
 * Log odds that a beat is the first of its bar. Fitted by tests/bench/fit-bars.ts. Free players mark the first
 * beat against all others, and heard beats of theirs are now and then one too few or too many: `reset` is what a
 * bar of another length costs. What marks the first beat marks the middle of an even bar a little, too: by `middle` of
 * its odds (by a scan on 57 pieces of the development set and the lessons: beats counted right 0.945 to 0.954 of the true ones,
 * 0.665 to 0.679 of the heard ones, 44 to 47 metres). Steady players of drums and walking bass mark bars by other
 * means, and what marks the middle of the bar is nearly what marks its start: they are told from the beats
 * between, each by weights of its own.
 */
const FREE: { first: Weights; middle: Weights | Share; reset: number } = {
  first: [
    0.89, -0.17, 1.34, 0.51, 0.16, -0.38, 0.24, -0.22, -0.39, 0.29, 0.56, 0.68, -0.1, -1.19, 0.13,
    0.07,
  ],
  middle: 0.15,
  reset: 2.5,
};
const STEADY: typeof FREE = {
  first: [0.22, -0.99, -0.35, 0.74, -0.08, -0.12, 0, 0, 0, 0, -0.32, 0, 0.73, 0, 0, -0.07],
  middle: [0.02, -0.75, 0.27, 0.31, -0.11, 0.15, 0, 0, 0, 0, -0.64, 0, 0.3, 0, 0, 0.03],
  reset: 20,
};

/** What speaks for each beat being the first of a bar, and the middle one of a bar of four or six. */
export interface BarOdds {
  readonly first: Float64Array;
  readonly middle: Float64Array;
}

/** How much each beat sounds like the first, or the middle, of a bar: log odds against the other beats. */
export function barOdds(evidence: BeatEvidence, beats: readonly Seconds[], steady: Share): BarOdds {
  const { first, middle } = steady > STEADY_FROM ? STEADY : FREE;
  const rows = barMeasures(evidence, beats);
  const odds = (weights: Weights) =>
    Float64Array.from(beats, (_, i) => {
      let sum = weights[MEASURES];
      for (let m = 0; m < MEASURES; m++) sum += weights[m] * rows[i * MEASURES + m];
      return sum;
    });
  const ones = odds(first);
  return {
    first: ones,
    middle: typeof middle === 'number' ? ones.map((odd) => middle * odd) : odds(middle),
  };
}

/** The measures of each beat against those of its neighbours, a row of `MEASURES` a beat. */
export function barMeasures(evidence: BeatEvidence, beats: readonly Seconds[]): Float64Array {
  const n = beats.length;
  const rows = measures(evidence, beats);
  const against = new Float64Array(rows.length);
  for (let i = 0; i < n; i++) {
    const first = Math.max(0, i - NEIGHBOURS);
    const last = Math.min(n - 1, i + NEIGHBOURS);
    for (let m = 0; m < MEASURES; m++) {
      const at = i * MEASURES + m;
      let others = 0;
      for (let k = first; k <= last; k++) if (k !== i) others += rows[k * MEASURES + m];
      against[at] = rows[at] - others / Math.max(1, last - first);
    }
  }
  return against;
}

/** The measures of each beat, a row a beat. */
function measures({ times, cues, fresh }: BeatEvidence, beats: readonly Seconds[]): Float64Array {
  const n = beats.length;
  const rows = new Float64Array(n * MEASURES);
  // Pitch classes that begin in each beat, summed from the first beat on.
  const sums = new Float64Array((n + 1) * 12);
  let from = n > 0 ? indexFrom(times, beats[0] - ON_BEAT) : 0;
  for (let i = 0; i < n; i++) {
    const until = indexFrom(times, i + 1 < n ? beats[i + 1] - ON_BEAT : Number.POSITIVE_INFINITY);
    const on = indexFrom(times, beats[i] + ON_BEAT);
    for (let m = 0; m < SOUND_AT.length; m++) {
      let most = on > from ? Number.NEGATIVE_INFINITY : SILENT;
      for (let k = from; k < on; k++) most = Math.max(most, cues[k * CUES + SOUND_AT[m]]);
      rows[i * MEASURES + m] = Math.max(HELD[0], Math.min(HELD[1], most));
    }
    rows[(i + 1) * MEASURES - 2] = on > from ? 1 : 0;
    rows[(i + 1) * MEASURES - 1] = Math.min(MOST_ONSETS, until - from);
    for (let c = 0; c < 12; c++) {
      let sum = sums[i * 12 + c];
      for (let k = from; k < until; k++) sum += fresh[k * 12 + c];
      sums[(i + 1) * 12 + c] = sum;
    }
    from = until;
  }
  for (let i = 0; i < n; i++)
    for (const [m, reach] of CHANGES.entries())
      rows[i * MEASURES + SOUND.length + m] =
        1 - cosine(sums, Math.max(0, i - reach), i, Math.min(n, i + reach));
  return rows;
}

/** Cosine of the pitch classes that begin in beats from `a` to `b` and from there to `c`, of sums from the first beat on. */
function cosine(sums: Float64Array, a: number, b: number, c: number): number {
  let both = 0;
  let before = 0;
  let after = 0;
  for (let q = 0; q < 12; q++) {
    const old = sums[b * 12 + q] - sums[a * 12 + q];
    const next = sums[c * 12 + q] - sums[b * 12 + q];
    both += old * next;
    before += old * old;
    after += next * next;
  }
  return before > 0 && after > 0 ? both / Math.sqrt(before * after) : 0;
}

/** Marks the index of the nearest beat for each place where the user says that a bar starts. */
function markedBeats(beats: readonly Seconds[], ones: readonly Seconds[]): Set<number> {
  return new Set(ones.map((one) => nearestBeat(beats, one)).filter((i) => i >= 0));
}

/** Counts from 1 at every first beat; before the first of them as if a bar of `metre` ended there. */
function counted(isOne: readonly boolean[], metre: number): number[] {
  const first = Math.max(0, isOne.indexOf(true));
  const counts: number[] = [];
  for (let i = 0; i < isOne.length; i++) {
    if (i < first) counts.push(((((i - first) % metre) + metre) % metre) + 1);
    else counts.push(i === first || isOne[i] ? 1 : counts[i - 1] + 1);
  }
  return counts;
}

/**
 * Counts beats in bars: the metre (2, 3, 4 or 6) and the bar lines that the odds speak for most, by
 * dynamic programming over the place in the bar; now and then a bar may be shorter or longer, at a cost. Places
 * where the user says that a bar starts hold exactly. With too little to go by bars count to four.
 */
export function countBars(
  beats: readonly Seconds[],
  ones: readonly Seconds[],
  odds: BarOdds,
  steady: Share = 0,
): number[] {
  const n = beats.length;
  const marked = markedBeats(beats, ones);
  if (n < FEWEST && marked.size < 2) {
    const [place = 0] = marked;
    return counted(
      beats.map((_, i) => (((i - place) % 4) + 4) % 4 === 0),
      4,
    );
  }
  const { reset } = steady > STEADY_FROM ? STEADY : FREE;
  let best: number[] = [];
  let most = Number.NEGATIVE_INFINITY;
  for (const [metre, usual] of METRES) {
    const { isOne, worth } = bestBars(odds, metre, reset, marked);
    if (worth + usual <= most) continue;
    most = worth + usual;
    best = counted(isOne, metre);
  }
  return best;
}

/** The best bar lines of one metre. */
function bestBars(
  { first, middle }: BarOdds,
  metre: number,
  reset: number,
  marked: ReadonlySet<number>,
): { isOne: boolean[]; worth: number } {
  const n = first.length;
  const half = metre > 2 && metre % 2 === 0 ? metre / 2 : -1;
  const from = new Int8Array(n * metre);
  let before = new Float64Array(metre);
  let now = new Float64Array(metre);
  for (let i = 0; i < n; i++) {
    let top = 0;
    for (let place = 1; place < metre; place++) if (before[place] > before[top]) top = place;
    for (let place = 0; place < metre; place++) {
      let last = (place + metre - 1) % metre;
      let worth = before[last];
      if (place === 0 && before[top] - reset > worth) {
        last = top;
        worth = before[top] - reset;
      }
      if (place === metre - 1 && before[place] - reset > worth) {
        last = place;
        worth = before[place] - reset;
      }
      from[i * metre + place] = last;
      const barred = place > 0 && marked.has(i);
      const gain = place === 0 ? first[i] : place === half ? middle[i] : 0;
      now[place] = barred ? Number.NEGATIVE_INFINITY : worth + gain;
    }
    [before, now] = [now, before];
  }
  let place = 0;
  for (let other = 1; other < metre; other++) if (before[other] > before[place]) place = other;
  const worth = before[place];
  const isOne = new Array<boolean>(n).fill(false);
  for (let i = n - 1; i >= 0; i--) {
    isOne[i] = place === 0;
    place = from[i * metre + place];
  }
  return { isOne, worth };
}
