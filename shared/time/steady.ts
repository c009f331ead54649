import type { Onset } from '../hear/heard.ts';
import type { Beats, Bpm, Percent, Seconds } from '../math/units.ts';
import { type BeatClock, beatAt, timeOfBeat } from './beat-clock.ts';
import { type GridDivision, nearestGridPoint } from './grid.ts';
import { type Anchor, mapTime, type TimeMap } from './time-map.ts';

/** How straight the playing becomes. */
export interface Straightness {
  readonly bpm: Bpm;
  /** How firmly the beat keeps to the tempo: 100 exact, 0 the players' own curve at this mean tempo. */
  readonly steady: Percent;
  /** How far attacks between the beats move to the grid: 0 as played, 100 on it. */
  readonly tighten: Percent;
  readonly grid: GridDivision;
  readonly swing: Percent;
}

/** An attack on its way: where it was, where it goes, and the grid point it is measured against. */
export interface Landing {
  readonly from: Seconds;
  readonly to: Seconds;
  readonly grid: Seconds;
}

/** A stretch of the players' clock, in whole beats of it: its first beat lands at `lead` in the result. */
export interface Stretch {
  readonly clock: BeatClock;
  readonly fromBeat: Beats;
  readonly untilBeat: Beats;
  readonly lead: Seconds;
}

/** Attacks this close are one gesture (a spread chord, a flam): its strongest carries the others. */
const gesture: Seconds = 0.06;
/** No piece between two anchors is squeezed or spread further than this by tightening. */
const steepest = 4;

/**
 * Positions in beats to the result's seconds: a blend of the fixed tempo and of the players' own curve,
 * scaled so that the stretch as a whole has the tempo asked for. That keeps bars exact at its ends
 * whatever the blend is.
 */
export function steadyTime(
  { clock, fromBeat, untilBeat, lead }: Stretch,
  { bpm, steady }: Straightness,
) {
  const start = timeOfBeat(clock, fromBeat);
  const beat = 60 / bpm;
  const own = ((untilBeat - fromBeat) * beat) / (timeOfBeat(clock, untilBeat) - start);
  const share = steady / 100;
  return (position: Beats): Seconds =>
    lead +
    share * (position - fromBeat) * beat +
    (1 - share) * (timeOfBeat(clock, position) - start) * own;
}

/** The strongest onset of each gesture inside the stretch, with its position in beats. */
function leaders(onsets: readonly Onset[], from: Seconds, until: Seconds): Onset[] {
  const kept: Onset[] = [];
  for (const onset of onsets) {
    if (onset.time < from - gesture / 2 || onset.time >= until - gesture / 2) continue;
    const last = kept[kept.length - 1];
    if (!last || onset.time - last.time >= gesture) kept.push(onset);
    else if (onset.strength > last.strength) kept[kept.length - 1] = onset;
  }
  return kept;
}

/** Drops what would not rise, or would squeeze or spread a piece too far; earlier, firmer anchors win. */
function rising(anchors: readonly (Anchor & { firm: boolean })[]): Anchor[] {
  const kept: (Anchor & { firm: boolean })[] = [];
  for (const anchor of anchors) {
    let last = kept[kept.length - 1];
    const fits = () => {
      if (!last) return true;
      const run = anchor.from - last.from;
      const rise = anchor.to - last.to;
      return run > 1e-4 && rise > run / steepest && rise < run * steepest;
    };
    while (last && anchor.firm && !last.firm && !fits()) {
      kept.pop();
      last = kept[kept.length - 1];
    }
    if (anchor.firm ? !last || (anchor.from > last.from && anchor.to > last.to) : fits())
      kept.push(anchor);
  }
  return kept.map(({ from, to }) => ({ from, to }));
}

/**
 * The map that makes a stretch steady and tight. At `tighten` 0 the beats are its anchors and everything
 * inside a beat keeps the players' proportions (their swing survives); above, each attack is one, and
 * takes the place of a beat that stands beside it, so at 100 attacks land on the grid to the sample.
 *
 * @returns the map, and where each leading attack lands against the grid
 */
export function steadyMap(
  stretch: Stretch,
  onsets: readonly Onset[],
  straightness: Straightness,
): { map: TimeMap; landings: Landing[] } {
  const { clock, fromBeat, untilBeat } = stretch;
  const { tighten, grid, swing } = straightness;
  const place = steadyTime(stretch, straightness);
  const pull = tighten / 100;
  const from = timeOfBeat(clock, fromBeat);
  const until = timeOfBeat(clock, untilBeat);

  const attacks = leaders(onsets, from, until).map((onset) => {
    const position = beatAt(clock, onset.time);
    const point = fromBeat + nearestGridPoint(position - fromBeat, grid, swing);
    return { onset, point, position: position + pull * (point - position) };
  });
  // Two attacks drawn to one grid point: the stronger goes there, the other keeps its distance to it.
  const drawn = attacks.filter(
    (a) =>
      !attacks.some(
        (b) => b !== a && Math.abs(b.point - a.point) < 1e-9 && b.onset.strength > a.onset.strength,
      ),
  );

  const anchors: (Anchor & { firm: boolean })[] = [];
  for (let beat = Math.ceil(fromBeat - 1e-9); beat <= untilBeat + 1e-9; beat++) {
    const time = timeOfBeat(clock, beat);
    const edge = beat <= fromBeat + 1e-9 || beat >= untilBeat - 1e-9;
    const beside = pull > 0 && drawn.some((a) => Math.abs(a.onset.time - time) < gesture);
    if (!beside || (edge && beat >= untilBeat - 1e-9))
      anchors.push({ from: time, to: place(beat), firm: true });
  }
  if (pull > 0)
    for (const a of drawn) anchors.push({ from: a.onset.time, to: place(a.position), firm: false });
  anchors.sort((a, b) => a.from - b.from);
  const map = { anchors: rising(anchors) };

  const landings = attacks.map(({ onset, point }) => ({
    from: onset.time,
    to: mapTime(map, onset.time),
    grid: place(point),
  }));
  return { map, landings };
}
