import type { Seconds } from '../../math/units.ts';
import type { BeatEvidence } from './evidence.ts';
import type { TempoModel } from './path.ts';
import { learnPatterns, type Mask, maskOf, type PatternModel } from './patterns.ts';
import { commonSalience, refitSalience, type Salience } from './salience.ts';
import { indexFrom } from './search.ts';
import { PARTS, type Tuning } from './tuning.ts';

/** An onset this close to a confirmed beat carries it. */
const ON_BEAT = 0.05;

/** How firmly a level holds that the user chose. */
const CHOSEN_SPREAD = 0.2;
const CHOSEN_WEIGHT = 1;

/** All that is known of how these players play: common at first, theirs as beats are confirmed. */
export interface Lesson {
  readonly tempo: TempoModel;
  readonly patterns: PatternModel;
  readonly salience: Salience;
  /** Share of beats that have an onset. */
  readonly sounding: number;
  /** Share of onsets at each place in the beat, the beat itself first. */
  readonly places: Float64Array;
}

/**
 * What confirmed beats teach (see the notes in `TUNING` on how fast).
 *
 * @param chosen natural log of the interval that the user chose, where they did
 */
export function learn(
  evidence: BeatEvidence,
  beats: readonly Seconds[],
  chosen: number | undefined,
  tuning: Tuning,
): Lesson {
  const { times } = evidence;
  const masks: Mask[] = [];
  let level = 0;
  let levelSquare = 0;
  let move = 0;
  let sounding = 0;
  let total = 0;
  let moves = 0;
  let weight = 1;
  const known = new Uint8Array(
    beats.length > 1 ? indexFrom(times, beats[beats.length - 1] + ON_BEAT) : 0,
  );
  for (let i = beats.length - 1; i > 0; i--) {
    const interval = beats[i] - beats[i - 1];
    const log = Math.log(interval);
    level += weight * log;
    levelSquare += weight * log * log;
    total += weight;
    if (i > 1) {
      const moved = Math.abs(log - Math.log(beats[i - 1] - beats[i - 2]));
      move += weight * Math.min(0.5, moved);
      moves += weight;
    }
    const from = indexFrom(times, beats[i - 1]);
    const until = indexFrom(times, beats[i]);
    masks.push(maskOf(times, from, until, beats[i - 1], interval));
    weight *= tuning.forget;
  }
  masks.reverse();
  // What lies before the first beat that teaches says nothing.
  known.fill(2, 0, beats.length > 0 ? indexFrom(times, beats[0] - ON_BEAT) : 0);
  for (const [i, beat] of beats.entries()) {
    const next = indexFrom(times, beat);
    let near = next;
    if (next > 0 && (next === times.length || beat - times[next - 1] < times[next] - beat)) near--;
    if (near < times.length && Math.abs(times[near] - beat) < ON_BEAT) {
      if (near < known.length) known[near] = 1;
      sounding += tuning.forget ** (beats.length - 1 - i);
    }
  }
  const places = new Float64Array(PARTS);
  for (const mask of masks)
    for (let part = 1; part < PARTS; part++) if (mask & (1 << (part - 1))) places[part]++;
  places[0] = known.reduce((sum, one) => sum + (one === 1 ? 1 : 0), 0);
  const inAll = places.reduce((sum, one) => sum + one, 0) + PARTS;
  for (let part = 0; part < PARTS; part++)
    places[part] = (places[part] + (part === 0 ? PARTS * 0.45 : 0.6)) / inAll;
  const trust = total / (total + tuning.levelHalf);
  const usual = chosen ?? tuning.level;
  const usualSpread = chosen === undefined ? tuning.spread : CHOSEN_SPREAD;
  const mean = total > 0 ? level / total : usual;
  const variance = total > 0 ? Math.max(0, levelSquare / total - mean * mean) : 0;
  const spread = Math.sqrt(
    (variance * total + tuning.levelHalf * usualSpread ** 2 * 0.3) / (total + tuning.levelHalf),
  );
  return {
    tempo: {
      freedom: Math.max(
        0.015,
        (move + tuning.freedomHalf * tuning.freedom) / (moves + tuning.freedomHalf),
      ),
      jitter: tuning.jitter,
      leap: tuning.leap,
      level: trust * mean + (1 - trust) * usual,
      spread: total > 0 ? spread : usualSpread,
      levelWeight:
        chosen === undefined
          ? tuning.levelWeight + (tuning.levelWeightKnown - tuning.levelWeight) * trust
          : Math.max(CHOSEN_WEIGHT, tuning.levelWeightKnown),
      tail: tuning.tail,
    },
    patterns: learnPatterns(masks, tuning),
    salience:
      known.length > 0
        ? refitSalience(evidence, known, commonSalience(), tuning)
        : commonSalience(),
    places,
    sounding:
      (sounding + tuning.soundingHalf * tuning.sounding) / (total + 1 + tuning.soundingHalf),
  };
}

/** How slowly beats teach that nobody has confirmed. */
const UNSURE = {
  levelHalf: 10,
  soundingHalf: 30,
  patternHalf: 20,
  forget: 1,
  salienceForget: 1,
} satisfies Partial<Tuning>;

/**
 * What beats teach that were heard before any was confirmed: what carries beats here, what lies between them and
 * how long they are; not how freely the tempo moves, since they were heard by what is usual.
 *
 * @param before what they were heard by
 * @param chosen natural log of the interval that the user chose, where they did
 */
export function learnUnsure(
  evidence: BeatEvidence,
  beats: readonly Seconds[],
  before: Lesson,
  chosen: number | undefined,
  tuning: Tuning,
): Lesson {
  const lesson = learn(evidence, beats, chosen, { ...tuning, ...UNSURE });
  const { freedom, levelWeight } = before.tempo;
  return { ...lesson, tempo: { ...lesson.tempo, freedom, levelWeight } };
}
