import type { Seconds } from '../../math/units.ts';

/** Shortest and longest interval between beats that is looked for. */
export const SHORTEST = 0.18;
export const LONGEST = 2.4;
/** Width of a step of tempo: natural log of the interval. */
export const STEP = 0.01;
export const BINS = Math.ceil(Math.log(LONGEST / SHORTEST) / STEP) + 1;
/** Most beats from one sounding beat to the next. */
export const MOST = 4;
/** The same where the tempo is known and all but the first of them lie in one silence: a sound is held. */
export const MOST_HELD = 16;
export const LOGS = Float64Array.from({ length: MOST_HELD + 1 }, (_, parts) => Math.log(parts));
/** Longest time from one sounding beat to the next. */
export const REACH: Seconds = 4.8;
/** Far more than sums of costs are rounded by. */
export const SLIGHT = 1e-6;

/** A path of beats: where each lies and whether an onset carries it. */
export interface Path {
  readonly times: Seconds[];
  readonly sounding: boolean[];
}

/** How the path may move; see `findPath`. Costs are natural logs of odds. */
export interface TempoModel {
  /** Mean size of a tempo move from beat to beat, as a natural log of the interval. */
  readonly freedom: number;
  /** Mean size of a beat's distance from where the tempo would put it, likewise. */
  readonly jitter: number;
  /** What a leap of tempo costs at most. */
  readonly leap: number;
  /** Natural log of the expected interval, its spread, and what one spread away costs a beat. */
  readonly level: number;
  readonly spread: number;
  readonly levelWeight: number;
  /** What a second without beats at the end costs. */
  readonly tail: number;
}

/** Where beats may lie, in rising order. */
export interface Places {
  readonly times: Float64Array;
  /** Gain of a beat that lies here. */
  readonly scores: Float64Array;
  /** 1 where a beat must lie: no path passes over it. */
  readonly must: Uint8Array;
  /** Number of places at which a path may begin (1 where the first beat is known). */
  readonly starts: number;
  /** When the sound ends: the path should reach it. */
  readonly end: Seconds;
  /** At this place any tempo may begin; -1 for none. */
  readonly freeAt: number;
  /** Most beats from one place to the next where all but the first of them lie in one silence, `MOST_HELD` at most. */
  readonly held: number;
  /** The interval before the first place, where known. */
  readonly interval?: Seconds;
}

/**
 * What an interval from one place to another, divided into `parts`, is worth; -Infinity forbids it, or
 * says that it is worth less than `enough` and nobody asks how much less.
 */
export type SpanScore = (from: number, to: number, parts: number, enough: number) => number;

/** Bin of an interval by its place on the scale: natural log over `SHORTEST`. */
function binAt(log: number): number {
  const bin = Math.round(log / STEP);
  return Math.max(0, Math.min(BINS - 1, bin));
}

function binOf(interval: Seconds): number {
  return binAt(Math.log(interval / SHORTEST));
}

/** What moves of tempo and intervals cost, by bins. */
export interface Costs {
  readonly perJitter: number;
  readonly perMove: number;
  /** So many bins on either side an interval may lie from the tempo. */
  readonly band: number;
  readonly levelCost: Float64Array;
  /** The least of it within the band. */
  readonly levelLow: Float64Array;
  /** How much more than its own bin another one of the band can bring. */
  readonly aside: number;
}

export function costsOf(model: TempoModel): Costs {
  const perJitter = STEP / model.jitter;
  const perMove = STEP / model.freedom;
  const band = Math.ceil((3 * model.jitter) / STEP);
  const levelCost = Float64Array.from({ length: BINS }, (_, bin) => {
    const z = (Math.log(SHORTEST) + bin * STEP - model.level) / model.spread;
    return model.levelWeight * z * z * 0.5;
  });
  const levelLow = levelCost.map((_, bin) =>
    levelCost.subarray(Math.max(0, bin - band), bin + band + 1).reduce((a, b) => Math.min(a, b)),
  );
  const aside = band * Math.max(0, perMove - perJitter);
  return { perJitter, perMove, band, levelCost, levelLow, aside };
}

/**
 * The best path of beats through `places`: dynamic programming over (place, interval), where the
 * tempo moves at a cost linear in the log ratio (so the inner maximum is a distance transform,
 * Felzenszwalb and Huttenlocher 2012, and the whole costs a constant for each state) and up to
 * three beats may fall between two places (more where a sound is held). What lies more than a leap under the best way to the same
 * place leads nowhere, since that way with a leap is better: it is passed over, which changes nothing.
 *
 * @returns beats in rising order, with whether a place carries each
 */
export function findPath(places: Places, model: TempoModel, span: SpanScore): Path {
  const { times, scores, must } = places;
  const n = times.length;
  if (n === 0) return { times: [], sounding: [] };
  const value = new Float64Array(BINS);
  /** The best value at each place, and its bin. */
  const tops = new Float64Array(n).fill(-Infinity);
  const topBins = new Int16Array(n);
  const moved = new Float64Array(n * BINS);
  const cameFrom = new Int32Array(n * BINS).fill(-1);
  const movedFrom = new Int16Array(n * BINS);
  const { perJitter, perMove, band, levelCost, levelLow, aside } = costsOf(model);

  let lastMust = -1;
  for (let j = 0; j < n; j++) {
    const row = j * BINS;
    const leap = j === places.freeAt ? 0 : model.leap;
    const silence = j > 0 ? times[j] - times[j - 1] + SLIGHT : 0;
    let top = -Infinity;
    value.fill(-Infinity);
    if (j < places.starts) {
      if (places.interval !== undefined) value[binOf(places.interval)] = scores[j];
      else for (let bin = 0; bin < BINS; bin++) value[bin] = scores[j] - levelCost[bin];
      for (const one of value) if (one > top) top = one;
    }
    for (let i = j - 1; i >= 0; i--) {
      let gap = times[j] - times[i];
      if (gap > REACH && i < j - 1) {
        // Only from one set beat to the next may the way be longer.
        if (must[j] === 0 || lastMust < 0) break;
        i = lastMust;
        gap = times[j] - times[i];
      }
      const forced = must[i] === 1 && must[j] === 1;
      const fewest = Math.ceil(gap / LONGEST);
      const free = Math.max(MOST, fewest);
      const most = Math.max(places.held, free);
      const log = Math.log(gap / SHORTEST);
      for (let parts = 1; parts <= most; parts++) {
        const interval = gap / parts;
        if (parts > free && gap - interval > silence) break;
        if (interval > LONGEST && parts > 1) continue;
        if (interval < SHORTEST && !(forced && parts === 1)) break;
        const bin = binAt(log - (parts <= MOST_HELD ? LOGS[parts] : Math.log(parts)));
        const from = i * BINS;
        const gain = scores[j] - (interval > LONGEST ? model.leap : 0);
        const enough =
          top - leap - SLIGHT - (moved[from + bin] + aside - levelLow[bin] * parts + gain);
        const worth = span(i, j, parts, enough);
        if (worth < enough || worth === -Infinity) continue;
        const base = gain + worth;
        const low = Math.max(0, bin - band);
        const high = Math.min(BINS - 1, bin + band);
        const came = i * 64 + Math.min(63, parts);
        for (let b = low; b <= high; b++) {
          const v = moved[from + b] + base - Math.abs(b - bin) * perJitter - levelCost[b] * parts;
          if (v > value[b]) {
            value[b] = v;
            cameFrom[row + b] = came;
            if (v > top) top = v;
          }
        }
      }
      if (must[i]) break;
    }
    if (must[j]) {
      if (top === -Infinity) {
        // Nothing else leads here: straight on from the last set beat, or a new beginning.
        const bin = binOf(lastMust < 0 ? Math.exp(model.level) : times[j] - times[lastMust]);
        value[bin] = lastMust < 0 ? 0 : moved[lastMust * BINS + bin];
        cameFrom[row + bin] = lastMust < 0 ? -1 : lastMust * 64 + 1;
      }
      lastMust = j;
    }
    for (let bin = 0; bin < BINS; bin++)
      if (value[bin] > tops[j]) {
        tops[j] = value[bin];
        topBins[j] = bin;
      }
    spreadTempo(value, moved, movedFrom, row, perMove, leap);
  }
  return bestOf(places, model, { tops, topBins, cameFrom, movedFrom });
}

/** What a search has found: the best value at each place and its bin; then for each place and bin where it came from. */
export interface Found {
  readonly tops: Float64Array;
  readonly topBins: Int16Array;
  readonly cameFrom: Int32Array;
  readonly movedFrom: Int16Array;
}

/** Reads the best path off what a search has found. */
export function bestOf({ times, must, end }: Places, { tail }: TempoModel, found: Found): Path {
  const { tops, topBins, cameFrom, movedFrom } = found;
  const n = times.length;
  let last = -1;
  let lastBin = 0;
  let best = -Infinity;
  for (let j = n - 1; j >= 0; j--) {
    const rest = Math.max(0, end - times[j]) * tail;
    if (tops[j] - rest > best) {
      best = tops[j] - rest;
      last = j;
      lastBin = topBins[j];
    }
    if (must[j]) break;
  }
  const path: Seconds[] = [];
  const sounding: boolean[] = [];
  for (let j = last, bin = lastBin; j >= 0; ) {
    path.push(times[j]);
    sounding.push(true);
    const came = cameFrom[j * BINS + bin];
    if (came < 0) break;
    const i = came >> 6;
    const parts = came & 63;
    for (let m = parts - 1; m > 0; m--) {
      path.push(times[i] + ((times[j] - times[i]) * m) / parts);
      sounding.push(false);
    }
    bin = movedFrom[i * BINS + bin];
    j = i;
  }
  return { times: path.reverse(), sounding: sounding.reverse() };
}

/** Lets the tempo of one place move: best of all tempi less the cost of the move, at most `leap`. */
function spreadTempo(
  value: Float64Array,
  moved: Float64Array,
  movedFrom: Int16Array,
  row: number,
  perBin: number,
  leap: number,
): void {
  let best = -Infinity;
  let bestBin = 0;
  let run = -Infinity;
  let source = 0;
  for (let bin = 0; bin < BINS; bin++) {
    const v = value[bin];
    if (v > best) {
      best = v;
      bestBin = bin;
    }
    run -= perBin;
    if (v >= run) {
      run = v;
      source = bin;
    }
    moved[row + bin] = run;
    movedFrom[row + bin] = source;
  }
  run = -Infinity;
  for (let bin = BINS - 1; bin >= 0; bin--) {
    const v = value[bin];
    run -= perBin;
    if (v >= run) {
      run = v;
      source = bin;
    }
    if (run > moved[row + bin]) {
      moved[row + bin] = run;
      movedFrom[row + bin] = source;
    }
    if (best - leap > moved[row + bin]) {
      moved[row + bin] = best - leap;
      movedFrom[row + bin] = bestBin;
    }
  }
}
