import type { Progress } from '../math/progress.ts';
import type { Hertz, Samples, Seconds } from '../math/units.ts';
import type { TimeMap } from '../time/time-map.ts';
import { mapTime, unmapTime } from '../time/time-map.ts';
import type { Attack, Frames } from './attacks.ts';
import type { Band } from './bands.ts';
import { type Decay, measureDecay } from './decay.ts';
import type { Newness } from './newness.ts';
import { type Knot, planTime } from './time-plan.ts';

/**
 * A stretch of one band from one kept attack to the next. Its first sound is copied at slope 1 and no
 * rotation, `source` to `out`; `knots` say which source moment sounds at which output moment, up to
 * the next piece's start at `outEnd` (where the source stands at `sourceEnd`). Full-rate samples.
 */
export interface Piece {
  readonly out: Samples;
  readonly source: Samples;
  readonly outEnd: Samples;
  readonly sourceEnd: Samples;
  /** Window of this piece, in band samples. */
  readonly window: Samples;
  readonly knots: readonly Knot[];
  readonly decay: Decay;
}

/** Everything that is decided before a sample is computed; plain data, to be drawn and tested. */
export interface WarpPlan {
  readonly attacks: readonly Attack[];
  readonly bands: readonly { readonly band: Band; readonly pieces: readonly Piece[] }[];
}

/** Least distance (s) of kept attacks in each band. */
const spacing = [0.03, 0.015, 0.006];
/** How much (dB) a band's power has to rise for an attack to count in it; low notes may start under others. */
const leastRise = [0, 2, 2];
/** How much has to be new in a band (see `Newness`); hiss is always new, so not in the high one. */
const leastNew = [0.3, 0.1, 0];
/** From which steadiness on the low band's window is doubled, and below which halved if sound is sustained. */
const steadyFrom = 0.99;
const movingBelow = 0.97;

/** What a band's own flux has to come to for an attack to count whatever the band's power does. */
const ownFlux = [0.3, 0.2, 0.2];
/** Whether an attack counts in a band. */
function counts(attack: Attack, band: number, fresh: Newness): boolean {
  if (attack.flux[band] >= ownFlux[band]) return true;
  if (leastRise[band] > 0 && attack.rise[band] < leastRise[band]) return false;
  return leastNew[band] === 0 || fresh.at(attack.start) >= leastNew[band];
}

/** How long before and after an anchor a sound may start to be the one that the anchor stands for. */
const anchorBefore = 0.008;
const anchorAfter = 0.013;

/** The anchor (source side) that an attack belongs to, if there is one. */
function anchorOf(map: TimeMap, start: Seconds): Seconds | undefined {
  let found: Seconds | undefined;
  for (const { from } of map.anchors) {
    if (start - from < -anchorBefore || start - from > anchorAfter) continue;
    if (found === undefined || Math.abs(start - from) < Math.abs(start - found)) found = from;
  }
  return found;
}

/**
 * How long (s) before it is heard a struck or plucked sound is set off: the way of hammer or stick, found
 * by experiment. A map moves the moments at which players act; a shift of pitch, those that are heard.
 */
export const setOff: Seconds = 0.004;

/**
 * Where a kept attack lands. The copy moves by whole samples, as the map moves the moment at which the
 * sound starts: the anchor itself where one stands there, since a sound is heard a little after the key
 * or stick fell.
 */
function landing(map: TimeMap, attack: Attack, sampleRate: Hertz, early: Seconds): Samples {
  const start = attack.heard / sampleRate - early;
  const moment = anchorOf(map, start) ?? start;
  return attack.start + Math.round((mapTime(map, moment) - moment) * sampleRate);
}

/** What every band's plan goes by. */
export interface Ground {
  readonly frames: Frames;
  readonly map: TimeMap;
  readonly length: Samples;
  readonly sampleRate: Hertz;
  /** How long before it is heard the moment lies that the map moves, between anchors. */
  readonly early: Seconds;
}

/**
 * Decides which attacks each band keeps, where they land, and how time runs between them. Goes through
 * the source once, so that nothing `fresh` looks at has to be in memory for long.
 */
export function planWarp(
  attacks: readonly Attack[],
  ground: Ground,
  bands: readonly Band[],
  fresh: readonly Newness[],
  progress?: Progress,
): WarpPlan {
  const planners = bands.map((band, b) => new BandPlanner(ground, band, b, fresh[b]));
  attacks.forEach((attack, i) => {
    for (const planner of planners) planner.take(attack);
    progress?.(i / attacks.length, 'warping');
  });
  return {
    attacks,
    bands: planners.map((planner, b) => ({ band: bands[b], pieces: planner.finish() })),
  };
}

/** Seconds after which a kept attack no longer gives way to another. */
const settled = 1;

interface Kept {
  readonly source: Samples;
  readonly out: Samples;
  readonly strength: number;
}

/** The plan of one band, made attack by attack. */
class BandPlanner {
  /** Attacks that may still give way to one that comes after them. */
  private readonly kept: Kept[] = [];
  private readonly pieces: Piece[] = [];
  private from: Knot;
  private readonly end: Knot;

  constructor(
    private readonly ground: Ground,
    private readonly band: Band,
    private readonly index: number,
    private readonly fresh: Newness,
  ) {
    const { map, length, sampleRate } = ground;
    this.from = { source: Math.round(unmapTime(map, 0) * sampleRate), out: 0 };
    this.end = {
      source: Math.round(unmapTime(map, length / sampleRate) * sampleRate),
      out: length,
    };
  }

  take(attack: Attack): void {
    const { ground, kept, index } = this;
    const { map, length, sampleRate } = ground;
    while (kept.length > 2 && kept[1].source < attack.start - settled * sampleRate)
      this.settle(kept.shift());
    if (!counts(attack, index, this.fresh)) return;
    const out = landing(map, attack, sampleRate, ground.early);
    if (out <= 0 || out >= length) return;
    const last = kept[kept.length - 1];
    const next = { source: attack.start, out, strength: attack.strength };
    if (last) {
      const gap = Math.min(next.source - last.source, next.out - last.out) / sampleRate;
      if (gap < spacing[index]) {
        if (last.strength >= next.strength) return;
        kept.pop();
        const before = kept[kept.length - 1];
        if (before && (before.out >= next.out || before.source >= next.source)) return;
      }
    }
    kept.push(next);
  }

  finish(): readonly Piece[] {
    for (const kept of this.kept) this.settle(kept);
    this.add(this.end);
    return this.pieces;
  }

  private settle(kept: Kept | undefined): void {
    if (kept && kept.source > this.from.source && kept.source < this.end.source) this.add(kept);
  }

  /** The piece up to `z`. */
  private add(z: Knot): void {
    const { band, index, fresh, from: a } = this;
    const { frames, map, sampleRate } = this.ground;
    const decay = measureDecay(frames, index, a.source, z.source, sampleRate);
    const shortest = Math.min(z.source - a.source, z.out - a.out) / band.decimation;
    let window = band.window;
    if (index === 0) {
      const steady = fresh.steadiness(a.source, z.source);
      if (steady > steadyFrom) window *= 2;
      if (steady < movingBelow && decay.share < 0.5) window /= 2;
    }
    while (window > 64 && window * 1.25 > shortest) window /= 2;
    this.pieces.push({
      out: a.out,
      source: a.source,
      outEnd: z.out,
      sourceEnd: z.source,
      window,
      knots: planTime(a, z, map, sampleRate, (window / 2) * band.decimation, decay.share),
      decay,
    });
    this.from = { source: z.source, out: z.out };
  }
}
