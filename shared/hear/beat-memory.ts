import type { Seconds } from '../math/units.ts';
import { type BeatEvidence, CUES } from './beat-evidence.ts';
import { likenessOf } from './beat-likeness.ts';
import { indexFrom } from './beat-search.ts';
import { PARTS, type Tuning } from './beat-tuning.ts';

/**
 * What onsets like each one were in confirmed beats: for every onset how much each place in the beat
 * (`PARTS` of them, 0 the beat itself) speaks for it. Material that returns, an accompaniment that
 * goes on, a figure that always leads to the beat: all are found by likeness of the onsets around.
 */
export interface Memory {
  /** Weight of each place, `PARTS` an onset. */
  readonly votes: Float64Array;
  /** All weight an onset got. */
  readonly totals: Float64Array;
  /** The same by the likeness of whole passages. */
  readonly passages: Float64Array;
  readonly passageTotals: Float64Array;
  /** Onsets before this one have taught. */
  readonly taught: number;
}

export const NO_MEMORY: Memory = {
  votes: new Float64Array(0),
  totals: new Float64Array(0),
  passages: new Float64Array(0),
  passageTotals: new Float64Array(0),
  taught: 0,
};

/** Intervals between onsets around an onset that make its shape: from this many before to after. */
const BEFORE = 3;
const AFTER = 3;
const SHAPE = BEFORE + AFTER;
/** Cues that take part in likeness: the first ones, which look at the onset alone. */
const COLOUR_CUES = 8;
const COLOUR = COLOUR_CUES + 36;

/** What likeness is measured by; made once for a take. */
interface Looks {
  readonly shape: Float64Array;
  readonly colour: Float64Array;
}

function looksOf(evidence: BeatEvidence, tuning: Tuning): Looks {
  const { times, cues, fresh } = evidence;
  const n = times.length;
  const shape = new Float64Array(n * SHAPE);
  const colour = new Float64Array(n * COLOUR);
  const gap = (i: number) =>
    i > 0 && i < n ? Math.log(Math.min(2, Math.max(0.04, times[i] - times[i - 1]))) : Math.log(2);
  const near = Math.sqrt(tuning.likeFresh / 2);
  const side = Math.sqrt(tuning.likeFresh / 4);
  const cue = Math.sqrt(tuning.likeCue);
  for (let i = 0; i < n; i++) {
    for (let q = 0; q < SHAPE; q++) shape[i * SHAPE + q] = gap(i + q - BEFORE + 1);
    for (let c = 0; c < COLOUR_CUES; c++) colour[i * COLOUR + c] = cue * cues[i * CUES + c];
    for (let d = -1; d <= 1; d++)
      if (i + d >= 0 && i + d < n)
        for (let c = 0; c < 12; c++)
          colour[i * COLOUR + COLOUR_CUES + (d + 1) * 12 + c] =
            (d === 0 ? near : side) * fresh[(i + d) * 12 + c];
  }
  return { shape, colour };
}

const known = new WeakMap<BeatEvidence, Looks>();

/**
 * Adds what the onsets of newly confirmed beats teach, for those onsets that lie further on: nobody asks
 * about the others any more.
 *
 * @param beats all confirmed beats, in rising order
 */
export function remember(
  evidence: BeatEvidence,
  before: Memory,
  beats: readonly Seconds[],
  tuning: Tuning,
): Memory {
  const { times } = evidence;
  const n = times.length;
  if (beats.length < 2) return NO_MEMORY;
  const until = indexFrom(times, beats[beats.length - 1] - 0.05);
  // A fix further left than the last one unsays what lies right of it.
  const from = before.taught <= until ? before.taught : 0;
  const votes = from > 0 ? before.votes.slice() : new Float64Array(n * PARTS);
  const totals = from > 0 ? before.totals.slice() : new Float64Array(n);
  const passages = from > 0 ? before.passages.slice() : new Float64Array(n * PARTS);
  const passageTotals = from > 0 ? before.passageTotals.slice() : new Float64Array(n);
  const { reach, weights } = likenessOf(evidence);
  const looks = known.get(evidence) ?? looksOf(evidence, tuning);
  known.set(evidence, looks);
  const { shape, colour } = looks;
  const sharp = 1 / tuning.likeWidth ** 2;
  let beat = 0;
  for (let k = Math.max(from, indexFrom(times, beats[0] - 0.045)); k < until; k++) {
    while (beat < beats.length - 2 && beats[beat + 1] <= times[k] + 0.045) beat++;
    const phase = (times[k] - beats[beat]) / (beats[beat + 1] - beats[beat]);
    if (phase < -0.2) continue;
    const place = times[k] - beats[beat] < 0.045 ? 0 : Math.round(phase * PARTS) % PARTS;
    for (let i = until; i < Math.min(n, k + 1 + reach); i++) {
      const weight = weights[i * reach + i - k - 1];
      passages[i * PARTS + place] += weight;
      passageTotals[i] += weight;
    }
    for (let i = until; i < n; i++) {
      let apart = 0;
      for (let q = 0; q < SHAPE; q++) {
        const u = shape[i * SHAPE + q] - shape[k * SHAPE + q];
        const weight = q === BEFORE - 1 || q === BEFORE ? tuning.likeGap : tuning.likeShape;
        apart += weight * Math.min(1, 2 * u * u);
      }
      if (apart * sharp > 7) continue;
      for (let c = 0; c < COLOUR; c++) {
        const u = colour[i * COLOUR + c] - colour[k * COLOUR + c];
        apart += u * u;
      }
      const like = Math.exp(-apart * sharp);
      votes[i * PARTS + place] += like;
      totals[i] += like;
    }
  }
  return { votes, totals, passages, passageTotals, taught: until };
}

/**
 * Gain of each onset lying at each place of the beat (`PARTS` an onset), against how often any onset
 * lies there; natural logs of odds.
 *
 * @param usual share of onsets at each place
 * @param from the first onset that is asked about
 */
export function recalled(
  memory: Memory,
  usual: Float64Array,
  from: number,
  tuning: Tuning,
): Float64Array {
  const { votes, totals, passages, passageTotals } = memory;
  const gains = new Float64Array(votes.length);
  const places = PARTS;
  const odds = usual.map((share) => Math.log((share + 0.01) / (1 - share + 0.01)));
  for (let i = from; i < totals.length; i++) {
    const scale = 1 / (totals[i] + tuning.likeLittle);
    const all = 1 / (passageTotals[i] + tuning.passageLittle);
    for (let place = 0; place < places; place++) {
      const at = i * places + place;
      const near = (votes[at] - usual[place] * totals[i]) * scale;
      const share = (passages[at] + tuning.passageLittle * usual[place]) * all;
      const passage = Math.log((share + 0.01) / (1 - share + 0.01)) - odds[place];
      gains[at] =
        place === 0
          ? tuning.likeBeat * near + tuning.passageBeat * passage
          : tuning.likePlace * near + tuning.passagePlace * passage;
    }
  }
  return gains;
}
