import type { Progress } from '../../math/progress.ts';
import type { Samples } from '../../math/units.ts';
import type { TimeMap } from '../../time/time-map.ts';
import type { Reader } from '../bands/reader.ts';
import type { BandSource } from '../bands/source.ts';
import type { BandSplitter } from '../bands/splitter.ts';
import { Surroundings } from './around.ts';
import { findAttacks, shortFrames } from './attacks.ts';
import { HeldLevels } from './held-levels.ts';
import { type Moment, planWarp, type WarpPlan } from './plan.ts';
import { Steadiness } from './steadiness.ts';

/** What is asked of a warp. */
export interface WarpWish {
  readonly map: TimeMap;
  /** Of the result, exact. */
  readonly length: Samples;
  /** What of an attack the map moves. */
  readonly moment: Moment;
}

/**
 * Every decision of a warp, before a sample is computed; made from the sum of all parts, of which `lead`
 * holds the bands, pair by pair of channels. Goes through it once; holds its power over short frames
 * meanwhile, about 40 kB a second at 44.1 kHz.
 */
export function decide(
  sum: Reader,
  lead: readonly BandSource[],
  splitter: BandSplitter,
  wish: WarpWish,
  progress?: Progress,
): WarpPlan {
  const { bands } = splitter;
  const frames = shortFrames(sum, bands, (share, doing) => progress?.(0.6 * share, doing));
  const attacks = findAttacks(frames, sum);
  // Hiss is always new, and in the high band next to nothing is held: nobody looks around there.
  const low = bands.slice(0, 2);
  const surroundings = low.map(
    (band, b) =>
      new Surroundings(
        band,
        lead.map(({ strips }) => strips[b]),
        splitter.padding,
      ),
  );
  const levels = low.map((band) => new HeldLevels(band, sum.sampleRate));
  const steadiness = new Steadiness(
    bands[0],
    lead.map(({ strips }) => strips[0]),
    splitter.padding,
  );
  const ground = { ...wish, frames, sampleRate: sum.sampleRate };
  try {
    return planWarp(attacks, ground, bands, surroundings, steadiness, levels, (share, doing) =>
      progress?.(0.7 + 0.3 * share, doing),
    );
  } finally {
    for (const part of [...surroundings, ...levels, steadiness]) part.leave();
  }
}
