import { decibelsOf } from '../../math/decibels.ts';
import type { Decibels, Hertz, Samples, Seconds } from '../../math/units.ts';
import type { Frames } from './attacks.ts';
import { frameRows } from './frame-rows.ts';

/**
 * Right before an attack: how long before it a release is looked for, and by how much level falls in so long,
 * over what it usually falls by.
 */
const hurried = { within: 0.25, fall: 5, span: 0.04 };
/** The same where all sound is let go, how far it stays below what it was, and what it fell by where it has begun. */
const complete = { fall: 12, span: 0.08, stays: 8.4, begun: 1.5 };

/** How long after the attack before it a release is looked for. */
const apart: Seconds = 0.08;
/** Power this short before an attack may be the attack's own already. */
const clear: Seconds = 0.004;
/** Over so much time power is averaged. */
const settling: Seconds = 0.012;
/** How long before the middle of the frames that are the first to fall sound is let go. */
const ahead: Seconds = 0.015;
/**
 * So far under the loudest moment since the last attack nothing is heard falling. Without a floor a fade into silence was let go
 * where its rounding had it: 15 ms apart for parts and their mix in 24 bits.
 */
const silent: Decibels = 60;

/** Where the sound of a band goes on from one attack to the next. */
export interface Ringing {
  readonly frames: Frames;
  readonly band: number;
  /** The two attacks, in samples of the source. */
  readonly from: Samples;
  readonly to: Samples;
  /** Fall of the band between the two, in decibels a second. */
  readonly usual: Decibels;
  readonly sampleRate: Hertz;
}

/** Level of a band from moment to moment. */
export interface Levels {
  readonly levels: Float64Array;
  /** Frame of the first one, and frames over which each is averaged. */
  readonly first: number;
  readonly mean: number;
}

const framesIn = (time: Seconds, { frames, sampleRate }: Ringing): number =>
  Math.max(1, Math.round((time * sampleRate) / frames.hop));

/** First frame that is looked at, from `within` before the next attack on. */
function firstOf({ frames, from, to, sampleRate }: Ringing, within: Seconds): number {
  const start = Math.max(from + apart * sampleRate, to - within * sampleRate);
  return Math.max(0, Math.ceil(start / frames.hop));
}

/**
 * Levels of the band up to the next attack, none lower than what is silent beside the loudest.
 *
 * @param plain for the plain form, whatever the machine has; the other gives the same to the last bit
 */
export function levelsOf(ringing: Ringing, plain = false): Levels {
  const { frames, band, to, sampleRate } = ringing;
  const { hop, count, width, power, split } = frames;
  const mean = framesIn(settling, ringing);
  const first = firstOf(ringing, Number.POSITIVE_INFINITY);
  const last = Math.min(count - 1, Math.floor((to - clear * sampleRate) / hop));
  const levels = new Float64Array(Math.max(0, last - first - mean + 1));
  const rows = plain ? null : frameRows(frames);
  if (rows) {
    const { kernel, at, found, most } = rows;
    const levelsAt = found + most * 8;
    for (let done = 0; done < levels.length; ) {
      const step = Math.min(levels.length - done, most - mean + 1);
      const begin = first + done;
      const end = begin + step + mean - 1;
      rows.bring(begin, end);
      kernel.bandLevels(
        ...([at, width, end - begin, split[band], split[band + 1], mean, found, levelsAt] as const),
      );
      levels.set(rows.doubles(levelsAt, step), done);
      done += step;
    }
    return { levels: heardOf(levels), first, mean };
  }
  const powers: number[] = [];
  for (let f = first; f < last; f++) {
    let sum = 0;
    for (let k = split[band]; k < split[band + 1]; k++) sum += power[f * width + k];
    powers.push(sum);
  }
  for (let f = 0; f < levels.length; f++) {
    let sum = 1e-12;
    for (let i = f; i < f + mean; i++) sum += powers[i];
    levels[f] = decibelsOf(sum);
  }
  return { levels: heardOf(levels), first, mean };
}

function heardOf(levels: Float64Array): Float64Array {
  let loudest = Number.NEGATIVE_INFINITY;
  for (const level of levels) loudest = Math.max(loudest, level);
  return levels.map((level) => Math.max(level, loudest - silent));
}

/** Where level falls most over `long`; -1 if that is less than `least`, or it has risen again at the end. */
function fastestFall(levels: Float64Array, long: number, fall: Decibels, least: Decibels): number {
  const end = levels[levels.length - 1];
  let most = 0;
  let at = -1;
  for (let i = 0; i < levels.length; i++) {
    // Where the attack comes first, what it fell by until then.
    const fallen = levels[i] - (levels[i + long] ?? end);
    if (fallen > most) {
      most = fallen;
      at = i;
    }
  }
  return at < 0 || most < least || levels[at] - end < fall ? -1 : at;
}

/**
 * Where the sound of a band is let go shortly before an attack: the start of its fastest fall, if that is far
 * faster than it dies away by itself and lasts until the attack.
 */
export function releaseBefore(
  ringing: Ringing,
  { levels: all, first: start, mean }: Levels = levelsOf(ringing),
): Samples | undefined {
  const { frames, usual, sampleRate } = ringing;
  const { within, span, fall } = hurried;
  const first = firstOf(ringing, within);
  const levels = all.subarray(first - start);
  const long = framesIn(span, ringing);
  if (levels.length <= long) return undefined;
  const at = fastestFall(levels, long, fall, fall + usual * span);
  if (at < 0) return undefined;
  return Math.round((first + at + mean / 2) * frames.hop - ahead * sampleRate);
}

/**
 * Where all that sounds in a band is let go, however long before the next attack: the last moment before it
 * falls fast and far and stays as low.
 */
export function completeRelease(
  ringing: Ringing,
  { levels, first }: Levels = levelsOf(ringing),
): Samples | undefined {
  const { span, fall, stays, begun } = complete;
  const long = framesIn(span, ringing);
  if (levels.length <= long) return undefined;
  let at = fastestFall(levels, long, fall, fall + ringing.usual * span);
  if (at < 0) return undefined;
  // A fall to silence is as fast for long: it is looked for where it begins.
  const before = Math.max(...levels.slice(Math.max(0, at - long), at + 1));
  while (at + 1 < levels.length && levels[at + 1] >= before - begun) at++;
  while (levels[at] < before - begun) at--;
  const low = levels[at] - stays;
  return levels.every((level, i) => i < at + long || level <= low)
    ? (first + at) * ringing.frames.hop
    : undefined;
}
