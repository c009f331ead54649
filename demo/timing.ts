import type { Beats, Seconds } from '../shared/math/units.ts';
import { makeChance } from './chance.ts';
import { beatsPerBar, type PhraseScore } from './score.ts';

/** The players' own time: when each place of the score comes, as the leader feels it. */
export interface FreeTime {
  /** Where each phrase's first whole bar stands, in beats from the bar line before the first pickup. */
  readonly phraseAt: readonly Beats[];
  /** Beats until the last bar line of the piece. */
  readonly total: Beats;
  /** Time of a place in beats, on the side after a breath where one falls. */
  timeOf(place: Beats): Seconds;
}

const fine = 16;
/** Silence before the first pickup. */
const countIn: Seconds = 0.8;

/**
 * Plans free time for a score: in every phrase the tempo rises and falls in an arch (Todd 1992, "The
 * dynamics of dynamics", finds the same parabola in played tempo), slows into its cadence as Friberg
 * and Sundberg's runners stop (JASA 105:1469, 1999: v = (1 + (w^q - 1) x)^(1/q), q = 3), waits on
 * fermatas and breathes before the next phrase; a slow wandering of about 2 % lies over all of it.
 */
export function planTime(score: readonly PhraseScore[], seed: number): FreeTime {
  const chance = makeChance(seed);
  const phraseAt: Beats[] = [];
  let bars = 1;
  for (const phrase of score) {
    phraseAt.push(bars * beatsPerBar);
    bars += phrase.bars;
  }
  const total = bars * beatsPerBar;
  const times = new Float64Array(total * fine + 1);
  const breaths: { place: number; seconds: number }[] = [];
  let wander = 0;
  let index = 0;
  let time = 0;
  for (let k = 0; k < times.length; k++) {
    const next = score[index + 1];
    if (next && k / fine >= phraseAt[index + 1] - next.pickup) {
      index += 1;
      breaths.push({ place: k, seconds: next.breath });
      time += next.breath;
    }
    times[k] = time;
    const phrase = score[index];
    const after = score[index + 1];
    const from = phraseAt[index] - phrase.pickup;
    const until = phraseAt[index] + phrase.bars * beatsPerBar - (after?.pickup ?? 0);
    const share = (k / fine - from) / (until - from);
    if (k % fine === 0) wander = 0.75 * wander + 0.014 * chance.normal();
    const arch = 1 - phrase.arch * (2 * share - 1) ** 2;
    const late = Math.max(0, 1 - (until - k / fine) / phrase.slowing.beats);
    const slow = (1 + (phrase.slowing.to ** 3 - 1) * late) ** (1 / 3);
    const inPhrase = k / fine - phraseAt[index];
    const hold = phrase.holds?.find((held) => inPhrase >= held.at && inPhrase < held.at + 1);
    const tempo = (phrase.bpm * arch * slow * (1 + wander)) / (1 + (hold?.extra ?? 0));
    time += 60 / tempo / fine;
  }
  const first = phraseAt[0] - score[0].pickup;
  const shift = countIn - times[first * fine];
  return {
    phraseAt,
    total,
    timeOf: (place) => {
      const at = Math.min(Math.max(place * fine, 0), times.length - 1);
      const k = Math.min(Math.floor(at + 1e-9), times.length - 2);
      let end = times[k + 1];
      // A breath lies right before its place: the time up to it runs on as if there were none.
      for (const breath of breaths) if (breath.place === k + 1) end -= breath.seconds;
      return shift + times[k] + (end - times[k]) * Math.max(0, at - k);
    },
  };
}
