import type { Seconds } from '../math/units.ts';

/** Shortest and longest interval between beats that is considered. */
export const SHORTEST = 0.18;
export const LONGEST = 2.4;
/** Width of a step of tempo: natural log of the interval. */
const STEP = 0.01;
const BINS = Math.ceil(Math.log(LONGEST / SHORTEST) / STEP) + 1;
/** Most beats from one sounding beat to the next. */
const MOST = 4;
/** Longest time from one sounding beat to the next. */
const REACH = 4.8;
/** What a leap of tempo costs at most. */
const LEAP = 6;

/** How the path may move; see `findPath`. */
export interface TempoModel {
  /** Mean size of a tempo move from beat to beat, as a natural log of the interval. */
  readonly freedom: number;
  /** Mean size of a beat's distance from where the tempo would put it, likewise. */
  readonly jitter: number;
  /** Natural log of the expected interval, and its spread. */
  readonly level: number;
  readonly spread: number;
  /** What being one spread away from the expected interval costs a beat. */
  readonly levelWeight: number;
  /** What a beat with no onset costs. */
  readonly silence: number;
}

/** Where beats may lie, in rising order. */
export interface Places {
  readonly times: Float64Array;
  /** Log odds that a beat lies here. */
  readonly scores: Float64Array;
  /** 1 where a beat must lie: no path passes over it. */
  readonly must: Uint8Array;
  /** Number of places at which a path may begin (1 where the first beat is known). */
  readonly starts: number;
  /** A path may end at this place or any later one. */
  readonly endFrom: number;
  /** The interval before the first place, where known. */
  readonly interval?: Seconds;
}

/** What an interval from one place to another, divided into `parts`, is worth; -Infinity forbids it. */
export type SpanScore = (from: number, to: number, parts: number) => number;

/**
 * The best path of beats through `places`: dynamic programming over (place, interval), where the
 * tempo moves at a cost linear in the log ratio (so the inner maximum is a distance transform,
 * Felzenszwalb and Huttenlocher 2012, and the whole costs a constant for each state) and up to
 * three beats may fall between two places.
 *
 * @returns times of beats in rising order, with the place each lies on (-1 for none)
 */
export function findPath(
  places: Places,
  model: TempoModel,
  span: SpanScore,
): { times: Seconds[]; places: number[] } {
  const { times, scores, must } = places;
  const n = times.length;
  if (n === 0) return { times: [], places: [] };
  const value = new Float64Array(n * BINS).fill(-Infinity);
  const moved = new Float64Array(n * BINS).fill(-Infinity);
  const cameFrom = new Int32Array(n * BINS).fill(-1);
  const movedFrom = new Int16Array(n * BINS);
  const perBin = STEP / model.freedom;
  const perJitter = STEP / model.jitter;
  const band = Math.ceil((3 * model.jitter) / STEP);
  const levelCost = Float64Array.from({ length: BINS }, (_, bin) => {
    const z = (Math.log(SHORTEST) + bin * STEP - model.level) / model.spread;
    return model.levelWeight * z * z * 0.5;
  });

  const spreadOut = (j: number) => {
    const base = j * BINS;
    let best = -Infinity;
    let bestBin = 0;
    let run = -Infinity;
    let source = 0;
    for (let bin = 0; bin < BINS; bin++) {
      const v = value[base + bin];
      if (v > best) {
        best = v;
        bestBin = bin;
      }
      run -= perBin;
      if (v >= run) {
        run = v;
        source = bin;
      }
      moved[base + bin] = run;
      movedFrom[base + bin] = source;
    }
    run = -Infinity;
    for (let bin = BINS - 1; bin >= 0; bin--) {
      const v = value[base + bin];
      run -= perBin;
      if (v >= run) {
        run = v;
        source = bin;
      }
      if (run > moved[base + bin]) {
        moved[base + bin] = run;
        movedFrom[base + bin] = source;
      }
      if (best - LEAP > moved[base + bin]) {
        moved[base + bin] = best - LEAP;
        movedFrom[base + bin] = bestBin;
      }
    }
  };

  for (let j = 0; j < n; j++) {
    if (j < places.starts) {
      if (places.interval !== undefined) {
        const bin = Math.round(Math.log(places.interval / SHORTEST) / STEP);
        value[j * BINS + Math.max(0, Math.min(BINS - 1, bin))] = scores[j];
      } else
        for (let bin = 0; bin < BINS; bin++) value[j * BINS + bin] = scores[j] - levelCost[bin];
    }
    for (let i = j - 1; i >= 0; i--) {
      const gap = times[j] - times[i];
      if (gap > REACH && !must[i]) continue;
      if (gap > REACH * 3) break;
      const fromParts = Math.max(1, Math.ceil(gap / LONGEST));
      for (let parts = fromParts; parts <= MOST; parts++) {
        const interval = gap / parts;
        if (interval < SHORTEST) break;
        const exact = Math.log(interval / SHORTEST) / STEP;
        const bin = Math.round(exact);
        const worth = span(i, j, parts);
        if (worth === -Infinity) continue;
        const base = scores[j] + worth - (parts - 1) * model.silence;
        const low = Math.max(0, bin - band);
        const high = Math.min(BINS - 1, bin + band);
        for (let b = low; b <= high; b++) {
          const v =
            moved[i * BINS + b] + base - Math.abs(b - bin) * perJitter - levelCost[b] * parts;
          if (v > value[j * BINS + b]) {
            value[j * BINS + b] = v;
            cameFrom[j * BINS + b] = i * 8 + parts;
          }
        }
      }
      if (must[i]) break;
    }
    spreadOut(j);
  }

  let last = -1;
  let lastBin = 0;
  let best = -Infinity;
  for (let j = places.endFrom; j < n; j++) {
    for (let bin = 0; bin < BINS; bin++)
      if (value[j * BINS + bin] > best) {
        best = value[j * BINS + bin];
        last = j;
        lastBin = bin;
      }
  }
  const outTimes: Seconds[] = [];
  const outPlaces: number[] = [];
  for (let j = last, bin = lastBin; j >= 0; ) {
    outTimes.push(times[j]);
    outPlaces.push(j);
    const came = cameFrom[j * BINS + bin];
    if (came < 0) break;
    const i = came >> 3;
    const parts = came & 7;
    for (let m = parts - 1; m > 0; m--) {
      outTimes.push(times[i] + ((times[j] - times[i]) * m) / parts);
      outPlaces.push(-1);
    }
    bin = movedFrom[i * BINS + bin];
    j = i;
  }
  return { times: outTimes.reverse(), places: outPlaces.reverse() };
}
