import type { Decibels, Hertz, Samples, Seconds } from '../math/units.ts';
import type { Frames } from './attacks.ts';

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

interface Levels {
  readonly levels: readonly Decibels[];
  /** Frame of the first one, and frames over which each is averaged. */
  readonly first: number;
  readonly mean: number;
  readonly framesIn: (time: Seconds) => number;
}

/** Level of the band from moment to moment, from `within` before the next attack on. */
function levelsOf({ frames, band, from, to, sampleRate }: Ringing, within: Seconds): Levels {
  const { hop, count, width, power, split } = frames;
  const framesIn = (time: Seconds): number => Math.max(1, Math.round((time * sampleRate) / hop));
  const mean = framesIn(settling);
  const first = Math.max(
    0,
    Math.ceil(Math.max(from + apart * sampleRate, to - within * sampleRate) / hop),
  );
  const last = Math.min(count - 1, Math.floor((to - clear * sampleRate) / hop));
  const powers: number[] = [];
  for (let f = first; f < last; f++) {
    let sum = 0;
    for (let k = split[band]; k < split[band + 1]; k++) sum += power[f * width + k];
    powers.push(sum);
  }
  const levels: Decibels[] = [];
  for (let f = 0; f + mean <= powers.length; f++) {
    let sum = 1e-12;
    for (let i = f; i < f + mean; i++) sum += powers[i];
    levels.push(10 * Math.log10(sum));
  }
  return { levels, first, mean, framesIn };
}

/** Where level falls most over `long`; -1 if that is less than `least`, or it has risen again at the end. */
function fastestFall(levels: readonly Decibels[], long: number, fall: Decibels, least: Decibels) {
  const end = levels[levels.length - 1];
  let most = 0;
  let at = -1;
  levels.forEach((level, i) => {
    // Where the attack comes first, what it fell by until then.
    const fallen = level - (levels[i + long] ?? end);
    if (fallen > most) {
      most = fallen;
      at = i;
    }
  });
  return at < 0 || most < least || levels[at] - end < fall ? -1 : at;
}

/**
 * Where the sound of a band is let go shortly before an attack: the start of its fastest fall, if that is far
 * faster than it dies away by itself and lasts until the attack.
 */
export function releaseBefore(ringing: Ringing): Samples | undefined {
  const { frames, usual, sampleRate } = ringing;
  const { within, span, fall } = hurried;
  const { levels, first, mean, framesIn } = levelsOf(ringing, within);
  const long = framesIn(span);
  if (levels.length <= long) return undefined;
  const at = fastestFall(levels, long, fall, fall + usual * span);
  if (at < 0) return undefined;
  return Math.round((first + at + mean / 2) * frames.hop - ahead * sampleRate);
}

/**
 * Where all that sounds in a band is let go, however long before the next attack: the last moment before it
 * falls fast and far and stays as low.
 */
export function completeRelease(ringing: Ringing): Samples | undefined {
  const { span, fall, stays, begun } = complete;
  const { levels, first, framesIn } = levelsOf(ringing, Number.POSITIVE_INFINITY);
  const long = framesIn(span);
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
