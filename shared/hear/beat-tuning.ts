/**
 * Constants of beat inference, fitted on our own recordings by tests/bench/fit-beats.ts. Costs and
 * gains are natural logs of odds.
 */
export const TUNING = {
  /** Expected natural log of the interval, its spread, and how much that counts. */
  level: Math.log(0.6),
  spread: 0.5,
  levelWeight: 0.3,
  levelWeightKnown: 0.8,
  /** Mean move of tempo from beat to beat and mean distance of a beat from its place. */
  freedom: 0.1,
  jitter: 0.02,
  /** What a leap of tempo costs at most. */
  leap: 6,
  /** Share of beats with an onset, and how much that counts. */
  sounding: 0.8,
  soundingWeight: 1,
  /** How much what an onset is like counts. */
  salienceWeight: 1,
  /** How much onsets inside the beat count, before and after something is known. */
  patternWeight: 0.2,
  patternWeightKnown: 0.8,
  /** Confirmed beats after which half of what is learned counts. */
  levelHalf: 2,
  freedomHalf: 4,
  soundingHalf: 8,
  patternHalf: 6,
  /** Prior weight of patterns made of independent places, in beats. */
  patternPrior: 4,
  /** What each confirmed beat's teaching loses with each later beat. */
  forget: 0.97,
  /** Spread of the weights of salience around the common ones. */
  salienceLoose: 0.3,
  /** What an onset teaches of salience loses with each later onset. */
  salienceForget: 0.995,
  /** Gain for a beat that was confirmed before a fix further left. */
  keep: 3,
  /** What a second after the last beat without beats costs. */
  tail: 1.5,
  /** Likeness of onsets: how much new pitch classes, cues, the gaps next to them and further ones tell apart. */
  likeFresh: 0.45,
  likeCue: 0.012,
  likeGap: 0.6,
  likeShape: 0.2,
  likeWidth: 0.44,
  /** Likeness that counts as little. */
  likeLittle: 0.1,
  /** How much likeness counts for beats and for places inside the beat. */
  likeBeat: 4,
  likePlace: 1,
  /** How much the tempo on either side bends where silent beats are put. */
  curve: 0.6,
  /** How much onsets around a silent beat move it, and the spread of that move in log interval. */
  fitWeight: 0.3,
  fitSpread: 0.12,
  /** How much neighbours draw the beats of steady players, and the freedom at which half of it is left. */
  smooth: 0.5,
  smoothFreedom: 0.05,
};
export type Tuning = typeof TUNING;

/** Parts of a beat in which onsets are counted. */
export const PARTS = 12;
/** Share of beats with an onset in each part after the first. */
export const PART_RATES: readonly number[] = [
  0.04, 0.06, 0.12, 0.1, 0.05, 0.35, 0.05, 0.1, 0.12, 0.06, 0.04,
];
