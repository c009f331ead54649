import { KernelRoom, type Kernels, kernels } from '../../math/kernel.ts';
import type { Seconds } from '../../math/units.ts';
import type { BeatEvidence } from './evidence.ts';
import { likenessOf } from './likeness.ts';
import { likenessesIn, likenessesSlowly, looksOf } from './looks.ts';
import { indexFrom } from './search.ts';
import { PARTS, type Tuning } from './tuning.ts';

/**
 * What onsets like each one were in confirmed beats: for every onset how much each place in the beat
 * (`PARTS` of them, 0 the beat itself) speaks for it. Material that returns, an accompaniment that
 * goes on, a figure that always leads to the beat: all are found by likeness of the onsets around.
 */
export interface Memory {
  /** `TALLY` numbers an onset. */
  readonly tallies: Float64Array;
  /** Onsets before this one have taught. */
  readonly taught: number;
}

export const NO_MEMORY: Memory = { tallies: new Float64Array(0), taught: 0 };

/**
 * Numbers remembered of an onset: how much by the likeness of the onsets around, and by that of whole passages, speaks for
 * each place in the beat, and the sums of both.
 */
const TALLY = 2 * (PARTS + 1);

/**
 * Adds what the onsets of newly confirmed beats teach, for those onsets that lie further on: nobody asks
 * about the others any more.
 *
 * @param beats all confirmed beats, in rising order
 * @param kernel null for the plain form
 */
export function remember(
  evidence: BeatEvidence,
  before: Memory,
  beats: readonly Seconds[],
  tuning: Tuning,
  kernel: Kernels | null = kernels(),
): Memory {
  const { times } = evidence;
  if (beats.length < 2) return NO_MEMORY;
  const until = indexFrom(times, beats[beats.length - 1] - 0.05);
  // A fix further left than the last one unsays what lies right of it.
  const from = before.taught <= until ? before.taught : 0;
  const first = Math.max(from, indexFrom(times, beats[0] - 0.045));
  const tallies = from > 0 ? before.tallies.slice() : new Float64Array(times.length * TALLY);
  const taught = { first, until, places: placesOf(times, beats, first, until) };
  if (kernel) tallyFast(evidence, taught, tallies, tuning, kernel);
  else tallySlowly(evidence, taught, tallies, tuning);
  return { tallies, taught: until };
}

/** Onsets that teach, and the place of each in its beat, -1 for none. */
interface Taught {
  readonly first: number;
  readonly until: number;
  readonly places: Int8Array;
}

/** Adds what is taught to the tallies of all onsets behind. */
function tallySlowly(
  evidence: BeatEvidence,
  { first, until, places }: Taught,
  tallies: Float64Array,
  tuning: Tuning,
): void {
  const { reach, weights } = likenessOf(evidence);
  const likeness = likenessesSlowly(looksOf(evidence, tuning), first, until, tuning);
  for (let i = until; i < evidence.times.length; i++) {
    const row = (i + 1) * reach - i;
    const likes = likeness(i);
    for (let k = first; k < until; k++) {
      const place = places[k - first];
      if (place < 0) continue;
      const passage = k >= i - reach ? weights[row + k] : 0;
      for (const slot of [place, PARTS]) {
        tallies[i * TALLY + 2 * slot] += likes[k - first];
        tallies[i * TALLY + 2 * slot + 1] += passage;
      }
    }
  }
}

function tallyFast(
  evidence: BeatEvidence,
  { first, until, places }: Taught,
  tallies: Float64Array,
  tuning: Tuning,
  kernel: Kernels,
): void {
  const count = until - first;
  if (count <= 0) return;
  const n = evidence.times.length;
  const { reach, weights } = likenessOf(evidence);
  const room = new KernelRoom(kernel);
  const { out, find } = likenessesIn(kernel, room, looksOf(evidence, tuning), first, until, tuning);
  const at = room.keepBytes(new Uint8Array(places.buffer));
  const passages = room.place(count * 4);
  const tally = room.keepDoubles(tallies.subarray(until * TALLY));
  const passage = room.floats(passages, count);
  for (let i = until; i < n; i++) {
    const near = Math.max(first, i - reach);
    const row = (i + 1) * reach - i;
    passage.fill(0, 0, near - first);
    if (near < until) passage.set(weights.subarray(row + near, row + until), near - first);
    find(i);
    kernel.tallied(out, passages, at, count, PARTS, tally + (i - until) * TALLY * 8);
  }
  tallies.set(room.doubles(tally, (n - until) * TALLY), until * TALLY);
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
  const { tallies } = memory;
  const n = tallies.length / TALLY;
  const near = new Float64Array(n * PARTS);
  const passage = new Float64Array(n * PARTS);
  const gains = new Float64Array(n * PARTS);
  const totals = new Float64Array(n);
  const passageTotals = new Float64Array(n);
  const odds = usual.map((share) => Math.log((share + 0.01) / (1 - share + 0.01)));
  for (let i = from; i < n; i++) {
    const own = i * TALLY;
    totals[i] = tallies[own + 2 * PARTS];
    passageTotals[i] = tallies[own + 2 * PARTS + 1];
    const scale = 1 / (totals[i] + tuning.likeLittle);
    const all = 1 / (passageTotals[i] + tuning.passageLittle);
    for (let place = 0; place < PARTS; place++) {
      const at = i * PARTS + place;
      near[at] = (tallies[own + 2 * place] - usual[place] * totals[i]) * scale;
      const share = (tallies[own + 2 * place + 1] + tuning.passageLittle * usual[place]) * all;
      passage[at] = Math.log((share + 0.01) / (1 - share + 0.01)) - odds[place];
      gains[at] =
        place === 0
          ? tuning.likeBeat * near[at] + tuning.passageBeat * passage[at]
          : tuning.likePlace * near[at] + tuning.passagePlace * passage[at];
    }
  }
  return { near, passage, gains, totals, passageTotals };
}
