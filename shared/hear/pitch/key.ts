import type { Seconds } from '../../math/units.ts';
import type { Audio } from '../../take/audio.ts';
import type { Key, Phrase, Tuning } from '../heard.ts';
import { chromasOf, forKey } from './chroma.ts';
import { hearPartials, type Partials } from './partials.ts';

/** Probe-tone profiles of Krumhansl and Kessler 1982 (Psychological Review 89:334-368), from the tonic up. */
export const profiles = {
  major: [6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88],
  minor: [6.33, 2.68, 3.52, 5.38, 2.6, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17],
};

/**
 * Share of segments in which each degree sounds, counted in the Kostka-Payne corpus (Temperley 2007,
 * "Music and Probability", MIT Press, chapter 6): sharper than listeners' ratings, for a short stretch.
 */
export const corpusProfiles = {
  major: [0.748, 0.06, 0.488, 0.082, 0.67, 0.46, 0.096, 0.715, 0.104, 0.366, 0.057, 0.4],
  minor: [0.712, 0.084, 0.474, 0.618, 0.049, 0.46, 0.105, 0.747, 0.404, 0.067, 0.133, 0.33],
};

/** Names of the twelve tonics as the trade spells them, from C. */
export const tonics = ['C', 'Db', 'D', 'Eb', 'E', 'F', 'F#', 'G', 'Ab', 'A', 'Bb', 'B'];
const modes = ['major', 'minor'] as const;

/** Less sure than this, the key is not named. */
const leastSure = 0.25;
/** Nor where the twelve weights differ by less than this share of their mean: a correlation sees no size. */
const leastContrast = 0.16;
/** One note, or a bare fifth, stands in many keys: so many pitch classes sound for this share of the commonest one's time. */
const fewestNotes = 3;
const sounds = 0.1;

/** Moments that are weighed together before they count: a second at the usual hop. */
const together = 10;
/** A key is read off stretches of this length, half overlapping: a take may go elsewhere and come back. */
const stretch: Seconds = 12;
/** How sharply a stretch takes sides between correlations. */
const sides = 15;
/** The opening says where a take is at home: its first phrase, this much of it at most. */
const opening: Seconds = 14;
/** The bass under the ends of phrases says what they close on. */
const closing: Seconds = 1.6;
const bassBelow = 250;

/**
 * Weights of the stretches' votes (log), of the opening's correlation and of the bass under the ends in
 * the log odds of a key (a conditional logit); fitted by tests/bench/fit-key.ts.
 */
export const weightOf = { votes: 1.7, opening: 6.4, bass: 2.4 };

/** Pearson correlation; 0 where one of the two does not vary. */
export function correlation(a: ArrayLike<number>, b: ArrayLike<number>): number {
  const n = a.length;
  let meanA = 0;
  let meanB = 0;
  for (let i = 0; i < n; i++) {
    meanA += a[i] / n;
    meanB += b[i] / n;
  }
  let ab = 0;
  let aa = 0;
  let bb = 0;
  for (let i = 0; i < n; i++) {
    ab += (a[i] - meanA) * (b[i] - meanB);
    aa += (a[i] - meanA) ** 2;
    bb += (b[i] - meanB) ** 2;
  }
  return aa > 0 && bb > 0 ? ab / Math.sqrt(aa * bb) : 0;
}

/** A moment's pitch classes, and that of its lowest strong partial where that is a bass note, else -1. */
interface Moment {
  readonly time: Seconds;
  readonly chroma: Float64Array;
  readonly bass: number;
}

function bassOf({ frequencies, magnitudes }: Partials, tuning: Tuning): number {
  let lowest = Number.POSITIVE_INFINITY;
  frequencies.forEach((frequency, i) => {
    if (magnitudes[i] > 0.1 * magnitudes[0]) lowest = Math.min(lowest, frequency);
  });
  if (lowest >= bassBelow) return -1;
  const note = Math.round(69 + 12 * Math.log2(lowest / tuning.a4));
  return ((note % 12) + 12) % 12;
}

/** Pitch classes of a stretch; every second counts alike, however full its chords are. */
function weigh(moments: readonly Moment[], from: Seconds, until: Seconds): Float64Array {
  const first = moments.findIndex((moment) => moment.time >= from - 1e-6);
  const sum = new Float64Array(12);
  if (first < 0) return sum;
  for (let i = first; i < moments.length && moments[i].time < until; i += together / 2) {
    const second = new Float64Array(12);
    for (const { time, chroma } of moments.slice(i, i + together))
      if (time < until) for (let c = 0; c < 12; c++) second[c] += chroma[c];
    const most = Math.max(...second);
    if (most > 0) for (let c = 0; c < 12; c++) sum[c] += second[c] / most;
  }
  return sum;
}

/** Correlation with each of the 24 keys, twelve major ones first. */
function fitsOf(weights: Float64Array, table: typeof profiles): number[] {
  return modes.flatMap((mode) =>
    tonics.map((_, tonic) => {
      const rotated = table[mode].map((__, i) => table[mode][(i - tonic + 12) % 12]);
      return correlation(weights, rotated);
    }),
  );
}

/** Shares that sum to 1, from log odds. */
function shares(odds: readonly number[]): number[] {
  const most = Math.max(...odds);
  const raw = odds.map((x) => Math.exp(x - most));
  const total = raw.reduce((sum, x) => sum + x, 0);
  return raw.map((x) => x / total);
}

/** What speaks for each of the 24 keys, twelve major ones first; how unevenly pitch classes sound, and how many do. */
export interface KeyEvidence {
  /** Log share of the stretches' votes. */
  readonly votes: readonly number[];
  /** Correlation of the opening. */
  readonly opening: readonly number[];
  /** Share of the tonic in the bass under the ends of phrases. */
  readonly bass: readonly number[];
  readonly contrast: number;
  readonly notes: number;
}

/**
 * The key that a take is at home in; "unclear" where none stands out. Stretches vote by Pearson
 * correlation with the 24 rotated profiles (Krumhansl 1990), so that a part in another key does not blur
 * the rest; the opening and the bass that phrases end on weigh in. The confidence is the share of
 * the evidence that the key has among all 24.
 *
 * @param phrases where the opening and the ends are; without, the opening is the first 14 s
 */
export function hearKey(
  audio: Audio,
  tuning: Tuning,
  partials: readonly Partials[] = hearPartials(audio),
  phrases: readonly Pick<Phrase, 'start' | 'end'>[] = [],
): Key {
  const unclear = { tonic: 'unclear', mode: 'unclear' } as const;
  const evidence = keyEvidence(tuning, partials, phrases);
  if (!evidence) return { ...unclear, confidence: 0 };
  const { votes, opening: first, bass, contrast, notes } = evidence;
  const sure = shares(
    votes.map(
      (vote, key) =>
        weightOf.votes * vote + weightOf.opening * first[key] + weightOf.bass * bass[key],
    ),
  );
  const confidence = Math.max(...sure);
  const key = sure.indexOf(confidence);
  if (confidence < leastSure || contrast < leastContrast || notes < fewestNotes)
    return { ...unclear, confidence };
  return { tonic: tonics[key % 12], mode: modes[key < 12 ? 0 : 1], confidence };
}

/** What speaks for each key; null where nothing sounds. */
export function keyEvidence(
  tuning: Tuning,
  partials: readonly Partials[],
  phrases: readonly Pick<Phrase, 'start' | 'end'>[],
): KeyEvidence | null {
  const chromas = chromasOf(partials, tuning, forKey);
  const moments = partials.map((moment, i) => ({
    time: moment.time,
    chroma: chromas[i],
    bass: bassOf(moment, tuning),
  }));
  const sounding = moments.filter(({ chroma }) => chroma.some((weight) => weight > 0));
  if (sounding.length === 0) return null;
  const from = sounding[0].time;
  const until = moments[moments.length - 1].time + 1e-6;
  const votes = new Array<number>(24).fill(0);
  let count = 0;
  for (let at = from; at === from || at + stretch / 2 < until; at += stretch / 2) {
    const weights = weigh(moments, at, at + stretch);
    if (!weights.some((weight) => weight > 0)) continue;
    shares(fitsOf(weights, profiles).map((fit) => sides * fit)).forEach((share, key) => {
      votes[key] += share;
    });
    count++;
  }
  const whole = weigh(moments, from, until);
  const commonest = Math.max(...whole);
  const home = phrases[0] ?? { start: from, end: until };
  const ends = bassAtEnds(moments, phrases);
  return {
    votes: votes.map((vote) => Math.log(vote / Math.max(1, count) + 0.02)),
    opening: fitsOf(
      weigh(moments, Math.min(home.start, from), Math.min(home.end, home.start + opening)),
      corpusProfiles,
    ),
    bass: votes.map((_, key) => ends[key % 12]),
    contrast: contrastOf(whole),
    notes: whole.filter((weight) => weight >= sounds * commonest).length,
  };
}

/** Share of each pitch class in the bass under the ends of phrases. */
function bassAtEnds(
  moments: readonly Moment[],
  phrases: readonly Pick<Phrase, 'start' | 'end'>[],
): Float64Array {
  const counts = new Float64Array(12);
  let all = 0;
  for (const { time, bass } of moments) {
    if (bass < 0 || !phrases.some(({ end }) => time >= end - closing && time < end)) continue;
    counts[bass]++;
    all++;
  }
  return all > 0 ? counts.map((value) => value / all) : counts;
}

/** Standard deviation over mean. */
function contrastOf(weights: Float64Array): number {
  const mean = weights.reduce((sum, w) => sum + w, 0) / weights.length;
  const power = weights.reduce((sum, w) => sum + (w - mean) ** 2, 0) / weights.length;
  return mean > 0 ? Math.sqrt(power) / mean : 0;
}
