import type { Seconds } from '../../math/units.ts';
import { CUES } from './cues.ts';
import type { BeatEvidence } from './evidence.ts';

/** Neighbours on either side whose cues are looked at, and whose distance is. */
const CUES_AROUND = 2;
const GAPS_AROUND = 6;
/** Distances, on either side, between which onsets are counted, and the bass in them. */
const EDGES: readonly Seconds[] = [
  0.02, 0.08, 0.14, 0.2, 0.26, 0.33, 0.41, 0.5, 0.6, 0.72, 0.86, 1.04, 1.25, 1.5, 1.8, 2.2,
];
const BANDS = EDGES.length - 1;
/** Times before and after the onset over which harmony is compared. */
const STRETCHES: readonly Seconds[] = [0.5, 1, 2];
/** Onsets further away are not looked at. */
const FARTHEST: Seconds = 4;
/** Onsets this near are struck with it: a spread chord, several hands. */
const CHORD: Seconds = 0.09;

/** Numbers that describe an onset and what is around it. */
export const CONTEXT =
  (2 * CUES_AROUND + 1) * CUES + 2 * GAPS_AROUND + 1 + 4 * BANDS + STRETCHES.length + 3;

type Onsets = Pick<BeatEvidence, 'times' | 'cues' | 'fresh'>;

/**
 * Describes each onset by its own cues and those of its neighbours, the gaps to them, how many onsets
 * and how much bass lie how far from it, how new the harmony is, and its place in a spread chord.
 *
 * @returns `CONTEXT` numbers an onset
 */
export function contextsOf(onsets: Onsets): Float32Array {
  const { times } = onsets;
  const n = times.length;
  const out = new Float32Array(n * CONTEXT);
  let from = 0;
  let until = 0;
  for (let i = 0; i < n; i++) {
    while (times[i] - times[from] >= FARTHEST) from++;
    while (until < n && times[until] - times[i] < FARTHEST) until++;
    let at = neighbours(onsets, i, out, i * CONTEXT);
    const span = Math.max(1, times[until - 1] - times[from]);
    out[at++] = Math.log((until - from) / span);
    at = surroundings(onsets, i, from, until, out, at);
    for (const stretch of STRETCHES) out[at++] = sameness(onsets, i, from, until, stretch);
    let before = i;
    while (before > from && times[i] - times[before - 1] < CHORD) before--;
    let after = i;
    while (after + 1 < until && times[after + 1] - times[i] < CHORD) after++;
    out[at++] = i - before;
    out[at++] = after - i;
    for (let c = 0; c < 12; c++) out[at] += onsets.fresh[i * 12 + c];
  }
  return out;
}

/** The neighbours' cues and the time to each. */
function neighbours({ times, cues }: Onsets, i: number, out: Float32Array, to: number): number {
  const n = times.length;
  let at = to;
  for (let k = i - CUES_AROUND; k <= i + CUES_AROUND; k++, at += CUES)
    if (k >= 0 && k < n) out.set(cues.subarray(k * CUES, (k + 1) * CUES), at);
  const gap = (seconds: Seconds) => Math.log(Math.min(FARTHEST, Math.max(0.03, seconds)));
  for (let d = 1; d <= GAPS_AROUND; d++)
    out[at++] = gap(i + d < n ? times[i + d] - times[i] : FARTHEST);
  for (let d = 1; d <= GAPS_AROUND; d++)
    out[at++] = gap(i >= d ? times[i] - times[i - d] : FARTHEST);
  return at;
}

/** How many onsets there are at each distance and how much bass they bring: after the onset, then before it. */
function surroundings(
  { times, cues }: Onsets,
  i: number,
  from: number,
  until: number,
  out: Float32Array,
  at: number,
): number {
  const farthest = EDGES[BANDS];
  for (const [side, step] of [1, -1].entries()) {
    let band = 0;
    for (let k = i + step; k >= from && k < until; k += step) {
      const apart = step * (times[k] - times[i]);
      if (apart > farthest) break;
      if (apart < EDGES[0]) continue;
      while (EDGES[band + 1] < apart) band++;
      const place = at + side * 2 * BANDS + band;
      out[place]++;
      out[place + BANDS] += Math.max(0, cues[k * CUES] + 0.5);
    }
  }
  return at + 4 * BANDS;
}

/** Cosine of the pitch classes that begin before the onset and from it on. */
function sameness(
  { times, fresh }: Onsets,
  i: number,
  from: number,
  until: number,
  stretch: Seconds,
): number {
  let first = i;
  while (first > from && times[i] - times[first - 1] <= stretch) first--;
  let end = i;
  while (end < until && times[end] - times[i] < stretch) end++;
  let both = 0;
  let before = 0;
  let after = 0;
  for (let c = 0; c < 12; c++) {
    let old = 0;
    for (let k = first; k < i; k++) old += fresh[k * 12 + c];
    let next = 0;
    for (let k = i; k < end; k++) next += fresh[k * 12 + c];
    both += old * next;
    before += old * old;
    after += next * next;
  }
  return before > 0 && after > 0 ? both / Math.sqrt(before * after) : 0;
}
