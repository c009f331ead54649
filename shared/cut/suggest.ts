import type { Beat, Onset, Phrase } from '../hear/heard.ts';
import type { Percent, Seconds } from '../math/units.ts';
import type { LevelCurve } from '../take/levels.ts';
import type { Slice } from './slice.ts';

/** What suggestions rest on. */
export interface CutMaterial {
  readonly seconds: Seconds;
  readonly levels: LevelCurve;
  readonly onsets: readonly Onset[];
  readonly phrases: readonly Phrase[];
  readonly beats: readonly Beat[];
}

/** A cut stands this long before the attack's first sample: nothing of the attack is lost, nothing early is heard. */
export const beforeAttack: Seconds = 0.001;
/** Attacks closer than this are one landing (a spread chord): no cut goes through it. */
const oneLanding: Seconds = 0.06;
/** A weaker attack this close before a landing is its pickup and stays with it. */
const pickup: Seconds = 0.16;
/** A sound has died this far under the loudest of its slice, or under the quiet of a room. */
const diedUnder = -50;
const quietRoom = -72;

interface Candidate {
  readonly onset: Onset;
  readonly rank: number;
}

/** Rank of an onset as a place to cut: strength, a beat under it, the one, the first of a phrase. */
function rankOf(onset: Onset, { beats, phrases }: CutMaterial): number {
  const beat = beats.find((b) => Math.abs(b.time - onset.time) < 0.05);
  const first = phrases.some((p) => Math.abs(p.start - onset.time) < 0.06);
  const onBeat = beat ? 0.25 + (beat.count === 1 ? 0.2 : 0) : 0;
  return onset.strength + onBeat + (first ? 10 : 0);
}

/** Where the sound that lands at `landing` has died, `end` at the latest. */
function diesAt({ hop, levels }: LevelCurve, landing: Seconds, end: Seconds): Seconds {
  const first = Math.floor(landing / hop);
  const last = Math.min(levels.length, Math.ceil(end / hop));
  let loudest = -120;
  for (let b = first; b < last; b++) loudest = Math.max(loudest, levels[b]);
  const floor = Math.max(loudest + diedUnder, quietRoom);
  let b = last;
  while (b > first + 1 && levels[b - 1] < floor) b--;
  return Math.min(end, Math.max(b * hop, landing + hop));
}

/**
 * Candidates in the order in which they are cut at: by rank, but those with a stronger one within the reach of a
 * pickup come after all others, since a grace note on its own is no word. `candidates` are in order of time.
 */
function cutOrder(candidates: readonly Candidate[]): Candidate[] {
  const ranked = candidates
    .map((_, i) => i)
    .sort((a, b) => candidates[b].rank - candidates[a].rank || a - b);
  const alone = new Set<number>();
  const crowded = new Set<number>();
  const near = (i: number, j: number) =>
    Math.abs(candidates[i].onset.time - (candidates[j]?.onset.time ?? Number.POSITIVE_INFINITY)) <
    pickup;
  for (const i of ranked) {
    let stands = true;
    for (let j = i - 1; stands && near(i, j); j--) stands = !alone.has(j);
    for (let j = i + 1; stands && near(i, j); j++) stands = !alone.has(j);
    (stands ? alone : crowded).add(i);
  }
  return [...alone, ...crowded].map((i) => candidates[i]);
}

/**
 * Slices for the wish between few (0: one a phrase) and many (100: every attack). More cuts only add:
 * the landings at one setting are among those at any higher one. A slice begins just before the first
 * sample of its attack, or of the pickup that leads to it, and ends where the next begins or where its
 * sound has died.
 */
export function suggestSlices(material: CutMaterial, cuts: Percent): Slice[] {
  const { onsets, phrases, seconds, levels } = material;
  const candidates: Candidate[] = [];
  for (const onset of onsets) {
    const rank = rankOf(onset, material);
    const last = candidates[candidates.length - 1];
    if (last && onset.time - last.onset.time < oneLanding) {
      if (rank > last.rank && onset.strength > last.onset.strength * 1.5)
        candidates[candidates.length - 1] = { onset, rank };
    } else candidates.push({ onset, rank });
  }
  if (candidates.length === 0) return [];

  const fewest = Math.min(Math.max(phrases.length, 1), candidates.length);
  const share = Math.min(Math.max(cuts, 0), 100) / 100;
  const wanted = Math.round(fewest + (candidates.length - fewest) * share ** 1.5);
  const chosen = cutOrder(candidates)
    .slice(0, wanted)
    .map((c) => c.onset)
    .sort((a, b) => a.time - b.time);

  const isLanding = new Set(chosen);
  const starts = chosen.map((landing, i) => {
    const earliest = i > 0 ? chosen[i - 1].time + oneLanding : 0;
    let first = landing;
    for (let k = onsets.indexOf(landing) - 1; k >= 0; k--) {
      const before = onsets[k];
      if (isLanding.has(before) || before.time < earliest) break;
      if (first.time - before.time > pickup || landing.time - before.time > 2 * pickup) break;
      if (before.strength > landing.strength && first === landing) break;
      first = before;
    }
    return Math.max(0, first.time - beforeAttack);
  });
  return chosen.map((landing, i) => {
    const limit = i + 1 < starts.length ? starts[i + 1] : seconds;
    const end = Math.max(diesAt(levels, landing.time, limit), Math.min(limit, landing.time + 0.02));
    return { start: starts[i], landing: landing.time, end: Math.max(end, landing.time + 1e-3) };
  });
}
