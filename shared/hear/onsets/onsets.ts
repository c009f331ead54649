import type { Progress } from '../../math/progress.ts';
import type { Seconds } from '../../math/units.ts';
import type { Audio } from '../../take/audio.ts';
import { ANALYSIS_RATE } from '../analysis-rate.ts';
import type { Onset } from '../heard.ts';
import { hearingSignal } from '../hearing-signal.ts';
import { CLOSE_RATE, closeFeatures } from './close-look.ts';
import { taughtEar } from './ear.ts';
import { cellsOf, viewLevels } from './features.ts';
import { likelihoods } from './net.ts';
import { outOfNoise } from './noise.ts';
import { keepSure, pickAttacks } from './picking.ts';
import { addedLoudness, risingOnly, strengthsOf } from './strength.ts';
import { timingsOf } from './timing-net.ts';
import { outOfVibrato } from './vibrato.ts';

/** From which likelihood on a moment is looked at closely. */
export const WORTH_A_CLOSE_LOOK = 0.16;
/** How sure the ear must then be of an attack near others, and of one that stands alone. */
const SURE = 0.6;
const SURE_ALONE = 0.4;
/** How sure of an attack near others that is possible. */
const POSSIBLE = 0.4;

/** Attacks of a recording, each list in rising order. */
export interface HeardAttacks {
  /** Those that the ear is sure of. */
  readonly onsets: Onset[];
  /**
   * The same and those near others that may be attacks, too: the soft notes of a spread chord, one of which may
   * be the beat.
   */
  readonly possible: Onset[];
}

/**
 * Every audible attack of a recording, in order, at its first audible sample. Attacks within 30 ms
 * count as one. Band levels at four resolutions are judged by a small perceptron that was taught on
 * rendered music with exact truth (after Eyben et al., ISMIR 2010, who first let a network find onsets);
 * a second one looks closely at what may be an attack, and says whether it is and when it begins.
 *
 * @param audio any number of channels, any rate, any gain
 * @param sound the same, made ready for hearing
 * @returns onsets in rising order; none in silence
 */
export function hearOnsets(
  audio: Audio,
  progress?: Progress,
  sound = hearingSignal(audio),
): Onset[] {
  return hearAttacks(audio, progress, sound).onsets;
}

/** The attacks that `hearOnsets` gives, and with them, for hearing beats, those that the ear is less sure of. */
export function hearAttacks(
  audio: Audio,
  progress?: Progress,
  sound = hearingSignal(audio),
): HeardAttacks {
  if (sound.silent) return { onsets: [], possible: [] };
  progress?.(0, 'onsets');
  const { levels, floor } = viewLevels(sound);
  progress?.(0.5, 'onsets');
  const curve = likelihoods(levels, cellsOf(sound.whole), taughtEar());
  const moments = risingOnly(pickAttacks(curve, WORTH_A_CLOSE_LOOK), levels[0]);
  const times = moments.map((moment) => Math.round(moment.time * CLOSE_RATE) / CLOSE_RATE);
  const end = (sound.whole.length - 1) / ANALYSIS_RATE;
  const timed = timingsOf(closeFeatures(times, sound, floor, curve)).map(
    ({ offset, sureness }, i) => ({
      time: Math.min(end, Math.max(0, times[i] + offset)),
      sureness,
    }),
  );
  const sure = keepSure(timed, SURE, SURE_ALONE);
  const isSure = new Set(sure);
  const heard = keepSure(timed, POSSIBLE, SURE_ALONE, sure);
  const played = outOfVibrato(outOfNoise(heard, levels[0]), levels[0]);
  const louder = played.map((attack) => ({
    attack,
    added: addedLoudness(levels[0], attack.time),
  }));
  const withStrengths = (some: typeof louder) => {
    const strengths = strengthsOf(some.map(({ added }) => added));
    return some.map(({ attack: { time } }, i) => ({ time, strength: strengths[i] }));
  };
  const onsets = withStrengths(louder.filter(({ attack }) => isSure.has(attack)));
  const possible = withStrengths(louder);
  progress?.(1, 'onsets');
  if (!startsInNoise(onsets)) return { onsets, possible };
  return {
    onsets: onsets.slice(1),
    possible: possible.filter(({ time }) => time > onsets[0].time),
  };
}

/** A recording's first moment, and how little of a strong attack's loudness its hiss has at most. */
const FIRST_MOMENT: Seconds = 0.02;
const NOISE = 0.15;

/**
 * Whether the first onset is the room or the tape coming in with the recording: out of digital silence
 * any hiss begins abruptly. On the development set's old records it has 0.06 to 0.14 of the strength of a
 * strong attack; music that begins on the first sample has more.
 */
function startsInNoise(onsets: readonly Onset[]): boolean {
  return onsets.length > 1 && onsets[0].time < FIRST_MOMENT && onsets[0].strength < NOISE;
}
