import type { Seconds } from '../math/units.ts';
import { type BeatEvidence, CUE_NAMES, CUES } from './beat-evidence.ts';
import { indexFrom } from './beat-search.ts';
import { nearestBeat } from './beat-state.ts';

/** Beats in a bar that are considered, and what each is worth before anything is heard. */
const METRES: readonly (readonly [number, number])[] = [
  [4, 0.2],
  [3, 0.15],
  [2, 0],
];
/** A take with fewer beats says nothing of its bars. */
const FEWEST = 12;
/** An onset this close to a beat is the beat's. */
const ON_BEAT: Seconds = 0.05;

const BASS = CUE_NAMES.indexOf('bassRise');
const LOW = CUE_NAMES.indexOf('lowRise');
const STRENGTH = CUE_NAMES.indexOf('strength');

/**
 * How much each beat sounds like the first of a bar: bass that begins there, a strong attack, pitch
 * classes that differ from those of the beat before. Mean 0.
 */
export function barAccents(evidence: BeatEvidence, beats: readonly Seconds[]): Float64Array {
  const { times, cues, fresh } = evidence;
  const n = beats.length;
  const accents = new Float64Array(n);
  const classes = new Float64Array(n * 12);
  for (let i = 0; i < n; i++) {
    const from = indexFrom(times, beats[i] - ON_BEAT);
    const until = indexFrom(times, i + 1 < n ? beats[i + 1] - ON_BEAT : Infinity);
    let length = 0;
    for (let k = from; k < until; k++)
      for (let c = 0; c < 12; c++) classes[i * 12 + c] += fresh[k * 12 + c];
    for (let c = 0; c < 12; c++) length += classes[i * 12 + c] ** 2;
    if (length > 0) for (let c = 0; c < 12; c++) classes[i * 12 + c] /= Math.sqrt(length);
    let best = -1;
    for (let k = from; k < until && times[k] < beats[i] + ON_BEAT; k++) {
      const row = k * CUES;
      best = Math.max(best, cues[row + BASS] + 0.5 * cues[row + LOW] + 0.4 * cues[row + STRENGTH]);
    }
    accents[i] = best;
    if (i > 0) {
      let same = 0;
      for (let c = 0; c < 12; c++) same += classes[i * 12 + c] * classes[(i - 1) * 12 + c];
      accents[i] += 1.2 * (1 - same);
    }
  }
  const mean = accents.reduce((sum, x) => sum + x, 0) / Math.max(1, n);
  return accents.map((x) => x - mean);
}

/** Marks the index of the nearest beat for each place where the user says that a bar starts. */
function markedBeats(beats: readonly Seconds[], ones: readonly Seconds[]): number[] {
  const marked = new Set(ones.map((one) => nearestBeat(beats, one)).filter((i) => i >= 0));
  return [...marked].sort((a, b) => a - b);
}

/** Counts of beats in bars of `metre`, from 1 again at every marked beat and backwards before the first. */
function counted(n: number, metre: number, marked: readonly number[]): number[] {
  const first = marked[0] ?? 0;
  const starts = new Set(marked);
  const counts: number[] = [];
  for (let i = 0; i < n; i++) {
    if (i < first) counts.push(((((i - first) % metre) + metre) % metre) + 1);
    else counts.push(starts.has(i) ? 1 : (counts[i - 1] % metre) + 1);
  }
  return counts;
}

/** Mean accent of the bars' first beats over the mean of all, in standard errors. */
function standOut(accents: Float64Array, counts: readonly number[]): number {
  let sum = 0;
  let ones = 0;
  let square = 0;
  for (let i = 0; i < counts.length; i++) {
    square += accents[i] * accents[i];
    if (counts[i] !== 1) continue;
    sum += accents[i];
    ones++;
  }
  const spread = Math.sqrt(square / Math.max(1, counts.length)) || 1;
  return ones === 0 ? 0 : (sum / ones / spread) * Math.sqrt(ones / Math.max(1, counts.length));
}

/**
 * Counts beats in bars: the one metre (2, 3 or 4) and the one place of the bar line whose first beats
 * stand out most. Places where the user says that a bar starts hold exactly; two of them also speak
 * for the metres that fill the time between them. With too little to go by bars count to four.
 */
export function countBars(
  beats: readonly Seconds[],
  ones: readonly Seconds[],
  accents: Float64Array,
): number[] {
  const n = beats.length;
  const marked = markedBeats(beats, ones);
  let best = counted(n, 4, marked);
  if (n < FEWEST && marked.length < 2) return best;
  let most = -Infinity;
  for (const [metre, usual] of METRES) {
    const gaps = marked.slice(1).map((one, i) => one - marked[i]);
    const filled = gaps.filter((gap) => gap % metre === 0).length - gaps.length;
    const places = marked.length > 0 ? 1 : metre;
    for (let place = 0; place < places; place++) {
      const counts = counted(n, metre, marked.length > 0 ? marked : [place]);
      const worth = standOut(accents, counts) + 0.2 * usual + filled;
      if (worth > most) {
        most = worth;
        best = counts;
      }
    }
  }
  return best;
}
