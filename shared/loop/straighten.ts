import type { Beat, Onset } from '../hear/heard.ts';
import { InputError } from '../math/input-error.ts';
import type { Progress } from '../math/progress.ts';
import type { Samples, Seconds } from '../math/units.ts';
import { type Audio, secondsOf } from '../take/audio.ts';
import { beatAt, makeBeatClock } from '../time/beat-clock.ts';
import { type Landing, type Straightness, steadyMap } from '../time/steady.ts';
import { mapTime, onSamples, type TimeMap, toSamples } from '../time/time-map.ts';
import { warp } from '../warp/warp.ts';

/** How a take, or a stretch of it, is set on a fixed tempo. */
export interface StraightenOptions extends Straightness {
  /** What is kept before the first beat. */
  readonly lead: Seconds;
  /** The stretch, drawn to the nearest beats; the whole take where left out. */
  readonly from?: Seconds;
  readonly until?: Seconds;
}

/** What straightening decided, before anything is rendered. */
export interface StraightPlan {
  readonly map: TimeMap;
  readonly length: Samples;
  readonly landings: readonly Landing[];
}

/**
 * Plans the straightening of a take. The stretch begins on a beat, which lands at `lead`. With `until`
 * its length is exact: whole beats of the tempo, after the lead. Without, the rest of the take rings out.
 * Throws InputError where there are too few beats to follow.
 */
export function planStraight(
  take: Audio,
  beats: readonly Beat[],
  onsets: readonly Onset[],
  options: StraightenOptions,
): StraightPlan {
  if (beats.length < 2)
    throw new InputError(
      'No beat was found in the take to straighten it by; set beats with a fixes file ("beat": seconds), two at least.',
    );
  const ends = secondsOf(take);
  if (options.from !== undefined && options.from >= ends)
    throw new InputError(
      `The stretch begins at ${options.from} s, and the take ends at ${ends.toFixed(2)} s; begin inside the take.`,
    );
  const clock = makeBeatClock(beats.map((beat) => beat.time));
  const snapped = (time: Seconds) =>
    Math.min(Math.max(Math.round(beatAt(clock, time)), 0), beats.length - 1);
  const fromBeat = options.from === undefined ? 0 : snapped(options.from);
  const untilBeat = options.until === undefined ? beats.length - 1 : snapped(options.until);
  if (untilBeat <= fromBeat)
    throw new InputError(
      `No whole beat lies between ${options.from ?? 0} s and ${options.until ?? ends} s; give a longer stretch.`,
    );
  const rate = take.sampleRate;
  const lead = toSamples(options.lead, rate) / rate;
  const straight = steadyMap({ clock, fromBeat, untilBeat, lead }, onsets, options);
  const map = onSamples(straight.map, rate);
  const seconds =
    options.until === undefined
      ? mapTime(map, ends)
      : lead + ((untilBeat - fromBeat) * 60) / options.bpm;
  return { map, length: toSamples(seconds, rate), landings: straight.landings };
}

/**
 * The take and its stems at a fixed tempo. `inputs` are parts of one performance: the first is what the
 * onsets and beats were heard in; all share one map and every decision of the warp.
 */
export function straighten(
  inputs: readonly Audio[],
  beats: readonly Beat[],
  onsets: readonly Onset[],
  options: StraightenOptions,
  progress?: Progress,
): { outputs: Audio[]; plan: StraightPlan } {
  const plan = planStraight(inputs[0], beats, onsets, options);
  return { outputs: warp(inputs, plan.map, plan.length, progress), plan };
}
