import type { Seconds } from '../../math/units.ts';
import { indexFrom } from './search.ts';

/** A silence is a hold where it is longer than so many beats and the beat that leads into it sounds no later in it. */
const LONG = 1.45;
const LEAD = 0.4;
/** Confirmed beats whose mean interval is the tempo that a hold is measured by. */
const FEW = 4;
/** An onset this far from a confirmed beat may still be its own. */
const NEAR: Seconds = 0.1;
/** What a hold teaches loses with each later one; what teaches less is not looked at. */
const FORGET = 0.95;
const LITTLE = 0.03;
/** Shares of holds that last one beat, two and so on, before any is known; they count as one hold. */
const LASTING = [0.2, 0.42, 0.22, 0.08, 0.04, 0.02, 0.01, 0.01];
/** How much longer than beats before them those of a hold are (natural log), its spread, and that around a known one. */
const USUAL = 0.18;
const WIDE = 0.28;
const NARROW = 0.12;
/** Shares of ways to count a hold below this are alike. */
const RARE = 0.01;

/** Numbers that say what confirmed holds make of an interval. */
export const HOLD_INPUTS = 6;

/** A hold: how many beats it lasts, and how much longer they are than those before (natural log). */
interface Hold {
  readonly beats: number;
  readonly stretch: number;
}

const bell = (x: number, spread: number) => Math.exp(-0.5 * (x / spread) ** 2) / spread;

/** The holds in confirmed beats, the last one first. */
function holdsIn(onsets: Float64Array, beats: readonly Seconds[]): Hold[] {
  const holds: Hold[] = [];
  let end = beats.length - 1;
  for (let k = indexFrom(onsets, beats[end] + NEAR) - 1; k > 0; k--) {
    const [from, to] = [onsets[k - 1], onsets[k]];
    while (end > 0 && Math.abs(beats[end - 1] - to) < Math.abs(beats[end] - to)) end--;
    let start = end;
    while (start > 0 && beats[start] > from + NEAR) start--;
    if (start < 2) break;
    if (start === end || Math.abs(beats[end] - to) > NEAR) continue;
    const tempo = (beats[start] - beats[start - 2]) / 2;
    if (to - from < LONG * tempo || from - beats[start] > LEAD * tempo) continue;
    const lasts = end - start;
    holds.push({ beats: lasts, stretch: Math.log((beats[end] - beats[start]) / lasts / tempo) });
  }
  return holds;
}

/**
 * Learns from confirmed beats how many beats a held sound lasts and how much longer they are there: players
 * who wait at the ends of phrases do so again, and others go on in time.
 *
 * @returns what writes `HOLD_INPUTS` numbers for an interval in equal parts, all 0 where it is no hold; `silence` is
 * how long nothing sounds before its end
 */
export function holdHabit(onsets: Float64Array, beats: readonly Seconds[]) {
  const n = beats.length;
  const tempo = (beats[n - 1] - beats[Math.max(0, n - 1 - FEW)]) / Math.min(FEW, n - 1);
  const holds = holdsIn(onsets, beats);
  const counts = LASTING.slice();
  const weights: number[] = [];
  let all = 1;
  let mean = USUAL;
  for (let i = 0, weight = 1; i < holds.length && weight > LITTLE; i++, weight *= FORGET) {
    weights.push(weight);
    counts[Math.min(LASTING.length, holds[i].beats) - 1] += weight;
    all += weight;
    mean += weight * holds[i].stretch;
  }
  mean /= all;
  const usualWay = (length: number, m: number) =>
    LASTING[m - 1] * bell(length - Math.log(m) - USUAL, WIDE);
  const ownWay = (length: number, m: number) => {
    let like = bell(length - Math.log(m) - USUAL, WIDE);
    for (const [i, weight] of weights.entries())
      like += weight * bell(length - Math.log(m) - holds[i].stretch, NARROW);
    return (counts[m - 1] / all) * (like / all);
  };
  const share = (way: (length: number, m: number) => number, length: number, parts: number) => {
    let sum = 0;
    for (let m = 1; m <= LASTING.length; m++) sum += way(length, m);
    return Math.log(way(length, Math.min(LASTING.length, parts)) / (sum + 1e-12) + RARE);
  };
  return (silence: Seconds, gap: Seconds, parts: number, out: Float32Array, at: number): void => {
    if (silence < LONG * tempo || gap - silence > LEAD * tempo) {
      out.fill(0, at, at + HOLD_INPUTS);
      return;
    }
    const length = Math.log(gap / tempo);
    const usual = share(usualWay, length, parts);
    out[at] = 1;
    out[at + 1] = usual;
    out[at + 2] = weights.length > 0 ? share(ownWay, length, parts) - usual : 0;
    out[at + 3] = parts - 1;
    out[at + 4] = Math.min(1, Math.abs(length - Math.log(parts) - mean));
    out[at + 5] = Math.log(all);
  };
}
