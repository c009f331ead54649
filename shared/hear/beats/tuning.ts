import { MOST, MOST_HELD } from './path.ts';

/**
 * Constants of beat inference, fitted on our own recordings by tests/bench/fit-beats.ts. Costs and
 * gains are natural logs of odds.
 */
export const TUNING = {
  /** Expected natural log of the interval, its spread, and how much that counts. */
  level: -0.18,
  spread: 0.56,
  levelWeight: 0.41,
  levelWeightKnown: 0.38,
  /** Mean move of tempo from beat to beat and mean distance of a beat from its place. */
  freedom: 0.14,
  jitter: 0.026,
  /** What a leap of tempo costs at most. */
  leap: 8,
  /** Share of beats with an onset, and how much that counts. */
  sounding: 0.88,
  soundingWeight: 1.5,
  /** Most beats that a sound is held for, once the tempo is known. */
  held: MOST_HELD,
  /** How much what an onset is like counts. */
  salienceWeight: 0.85,
  /** How much the rhythm in and around an interval counts, before and after something is known. */
  rhythmWeight: 0.4,
  rhythmWeightKnown: 0.4,
  /** What an interval may have against it by its rhythm and still be as likely as not. */
  rhythmEven: 0.5,
  /** How much it counts what the network for the next beats hears. */
  nextWeight: 1,
  /** How much onsets inside the beat count, before and after something is known. */
  patternWeight: 0.45,
  patternWeightKnown: 0.67,
  /** Confirmed beats after which half of what is learned counts. */
  levelHalf: 0.3,
  freedomHalf: 5.4,
  soundingHalf: 6.8,
  patternHalf: 4.3,
  /** Prior weight of patterns made of independent places, in beats. */
  patternPrior: 10,
  /** Share of a pattern's count that goes to patterns with one onset more or less. */
  patternBlur: 0.2,
  /** What each confirmed beat's teaching loses with each later beat. */
  forget: 0.98,
  /** Spread of the weights of salience around the common ones: those of cues, and of the network's traits. */
  salienceLoose: 0.25,
  traitLoose: 0.05,
  /** What an onset teaches of salience loses with each later onset. */
  salienceForget: 0.975,
  /** Gain for a beat that was confirmed before a fix further left. */
  keep: 3,
  /** What a second after the last beat without beats costs. */
  tail: 1.8,
  /** Likeness of onsets: how much new pitch classes, cues, the gaps next to them and further ones tell apart. */
  likeFresh: 0.35,
  likeCue: 0.022,
  likeGap: 0.47,
  likeShape: 0.086,
  likeWidth: 0.45,
  /** Likeness that counts as little. */
  likeLittle: 0.064,
  /** How much likeness counts for beats and for places inside the beat. */
  likeBeat: 5,
  likePlace: 1.6,
  /** Likeness of passages that counts as little; how much it counts for beats and for places inside the beat. */
  passageLittle: 2,
  passageBeat: 1.2,
  passagePlace: 0.4,
  /** How much silent beats move from even to where the network hears them. */
  silentWeight: 1,
  /** Onsets this close to a beat count as the same moment; what moving so far costs; odds of the beat's own onset. */
  reach: 0.035,
  reachCost: 0.3,
  reachOwn: 0.5,
  /** How much neighbours draw the beats of steady players, and the freedom at which half of it is left. */
  smooth: 0.7,
  smoothFreedom: 0.059,
  /** How much an onset's odds of carrying a beat count there. */
  smoothOdds: 0,
  /** 1 where players keep a tempo: their beats are evened instead. */
  even: 0,
  /** 1 where beats go on as far as there are onsets on either side. */
  reachesEnds: 0,
};
export type Tuning = typeof TUNING;

/** What is otherwise where players keep a steady tempo. */
export const STEADY = {
  level: -1,
  spread: 0.54,
  levelWeight: 0.37,
  levelWeightKnown: 0.5,
  freedom: 0.03,
  jitter: 0.025,
  leap: 8,
  sounding: 0.9,
  soundingWeight: 1.4,
  held: MOST,
  salienceWeight: 1,
  rhythmWeight: 0,
  rhythmWeightKnown: 0,
  nextWeight: 0,
  patternWeight: 0.3,
  patternWeightKnown: 0.68,
  freedomHalf: 4.3,
  likeBeat: 6.5,
  silentWeight: 0,
  reach: 0,
  smooth: 1,
  smoothFreedom: 0.12,
  smoothOdds: 1,
  reachesEnds: 1,
} satisfies Partial<Tuning>;

/** Parts of a beat in which onsets are counted. */
export const PARTS = 12;
/** Share of beats with an onset in each part after the first. */
export const PART_RATES: readonly number[] = [
  0.04, 0.1, 0.14, 0.12, 0.09, 0.27, 0.12, 0.18, 0.2, 0.09, 0.13,
];
