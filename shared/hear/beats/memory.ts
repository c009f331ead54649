import type { Seconds } from '../../math/units.ts';
import type { BeatEvidence } from './evidence.ts';
import { likenessOf } from './likeness.ts';
import { likenessesTo, looksOf } from './looks.ts';
import { indexFrom } from './search.ts';
import { PARTS, type Tuning } from './tuning.ts';

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
  const first = Math.max(from, indexFrom(times, beats[0] - 0.045));
  const places = placesOf(times, beats, first, until);
  const likeness = likenessesTo(looksOf(evidence, tuning), first, until, tuning);
  for (let i = until; i < n; i++) {
    const near = Math.max(first, i - reach);
    const row = (i + 1) * reach - i;
    for (let k = near; k < until; k++) {
      const place = places[k - first];
      if (place < 0) continue;
      passages[i * PARTS + place] += weights[row + k];
      passageTotals[i] += weights[row + k];
    }
    const likes = likeness(i);
    for (let k = first; k < until; k++) {
      const place = places[k - first];
      if (place < 0) continue;
      votes[i * PARTS + place] += likes[k - first];
      totals[i] += likes[k - first];
    }
  }
  return { votes, totals, passages, passageTotals, taught: until };
}

/** Place in its beat of each onset from `first` to `until`; -1 where it lies in none. */
function placesOf(
  times: Float64Array,
  beats: readonly Seconds[],
  first: number,
  until: number,
): Int8Array {
  const places = new Int8Array(Math.max(0, until - first));
  let beat = 0;
  for (let k = first; k < until; k++) {
    while (beat < beats.length - 2 && beats[beat + 1] <= times[k] + 0.045) beat++;
    const phase = (times[k] - beats[beat]) / (beats[beat + 1] - beats[beat]);
    if (phase < -0.2) places[k - first] = -1;
    else places[k - first] = times[k] - beats[beat] < 0.045 ? 0 : Math.round(phase * PARTS) % PARTS;
  }
  return places;
}

/**
 * What memory says of each onset lying at each place of the beat (`PARTS` an onset), against how often any
 * onset lies there.
 */
export interface Recalled {
  /** By the likeness of the onsets around: a share. */
  readonly near: Float64Array;
  /** By the likeness of whole passages: natural log of odds. */
  readonly passage: Float64Array;
  /** Both together, as they count: natural log of odds. */
  readonly gains: Float64Array;
  /** How much was remembered of each onset, near it and in whole passages. */
  readonly totals: Float64Array;
  readonly passageTotals: Float64Array;
}

/**
 * Asks memory about onsets.
 *
 * @param usual share of onsets at each place
 * @param from the first onset that is asked about
 */
export function recalled(
  memory: Memory,
  usual: Float64Array,
  from: number,
  tuning: Tuning,
): Recalled {
  const { votes, totals, passages, passageTotals } = memory;
  const near = new Float64Array(votes.length);
  const passage = new Float64Array(votes.length);
  const gains = new Float64Array(votes.length);
  const places = PARTS;
  const odds = usual.map((share) => Math.log((share + 0.01) / (1 - share + 0.01)));
  for (let i = from; i < totals.length; i++) {
    const scale = 1 / (totals[i] + tuning.likeLittle);
    const all = 1 / (passageTotals[i] + tuning.passageLittle);
    for (let place = 0; place < places; place++) {
      const at = i * places + place;
      near[at] = (votes[at] - usual[place] * totals[i]) * scale;
      const share = (passages[at] + tuning.passageLittle * usual[place]) * all;
      passage[at] = Math.log((share + 0.01) / (1 - share + 0.01)) - odds[place];
      gains[at] =
        place === 0
          ? tuning.likeBeat * near[at] + tuning.passageBeat * passage[at]
          : tuning.likePlace * near[at] + tuning.passagePlace * passage[at];
    }
  }
  return { near, passage, gains, totals, passageTotals };
}
