/**
 * Constants of beat inference, fitted on our own recordings by tests/bench/fit-beats.ts. Costs and
 * gains are natural logs of odds.
 */
export const TUNING = {
  /** Expected natural log of the interval, its spread, and how much that counts. */
  level: -0.43,
  spread: 0.54,
  levelWeight: 0.37,
  levelWeightKnown: 0.5,
  /** Mean move of tempo from beat to beat and mean distance of a beat from its place. */
  freedom: 0.12,
  jitter: 0.021,
  /** What a leap of tempo costs at most. */
  leap: 5,
  /** Share of beats with an onset, and how much that counts. */
  sounding: 0.85,
  soundingWeight: 1.4,
  /** How much what an onset is like counts. */
  salienceWeight: 1,
  /** How much onsets inside the beat count, before and after something is known. */
  patternWeight: 0.48,
  patternWeightKnown: 0.68,
  /** Confirmed beats after which half of what is learned counts. */
  levelHalf: 0.2,
  freedomHalf: 4.3,
  soundingHalf: 10,
  patternHalf: 8.9,
  /** Prior weight of patterns made of independent places, in beats. */
  patternPrior: 6.7,
  /** What each confirmed beat's teaching loses with each later beat. */
  forget: 0.97,
  /** Spread of the weights of salience around the common ones. */
  salienceLoose: 0.42,
  /** What an onset teaches of salience loses with each later onset. */
  salienceForget: 0.98,
  /** Gain for a beat that was confirmed before a fix further left. */
  keep: 3,
  /** What a second after the last beat without beats costs. */
  tail: 1.5,
  /** Likeness of onsets: how much new pitch classes, cues, the gaps next to them and further ones tell apart. */
  likeFresh: 0.55,
  likeCue: 0.019,
  likeGap: 0.49,
  likeShape: 0.096,
  likeWidth: 0.45,
  /** Likeness that counts as little. */
  likeLittle: 0.072,
  /** How much likeness counts for beats and for places inside the beat. */
  likeBeat: 6.5,
  likePlace: 1.6,
  /** How much the tempo on either side bends where silent beats are put. */
  curve: 0.17,
  /** How much onsets around a silent beat move it, and the spread of that move in log interval. */
  fitWeight: 0.27,
  fitSpread: 0.14,
  /** How much neighbours draw the beats of steady players, and the freedom at which half of it is left. */
  smooth: 0.71,
  smoothFreedom: 0.061,
};
export type Tuning = typeof TUNING;

/** What is otherwise where players keep a steady tempo. */
export const STEADY = {
  level: -1,
  spread: 0.54,
  levelWeight: 0.37,
  levelWeightKnown: 0.5,
  freedom: 0.03,
  jitter: 0.04,
  leap: 8,
  sounding: 0.9,
  soundingWeight: 1.4,
  salienceWeight: 1,
  patternWeight: 0.48,
  patternWeightKnown: 0.68,
  freedomHalf: 4.3,
  likeBeat: 6.5,
  smooth: 0.71,
  smoothFreedom: 0.061,
} satisfies Partial<Tuning>;

/** Parts of a beat in which onsets are counted. */
export const PARTS = 12;
/** Share of beats with an onset in each part after the first. */
export const PART_RATES: readonly number[] = [
  0.03, 0.06, 0.1, 0.1, 0.07, 0.28, 0.1, 0.13, 0.16, 0.06, 0.07,
];
