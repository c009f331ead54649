import type { Seconds } from '../../math/units.ts';
import { CUE_NAMES, CUES } from './cues.ts';
import type { BeatEvidence } from './evidence.ts';
import { indexFrom } from './search.ts';

/** Onsets this near are struck together: a spread chord, several hands. */
const CHORD: Seconds = 0.09;
/** An onset this close to a beat carries it. */
const ON_BEAT: Seconds = 0.05;
/** What a confirmed beat says of chords loses with each later beat. */
const FORGET = 0.94;
/** Beats that say less than this are not looked at. */
const LITTLE = 0.05;
/** Distance from a chord's ends that one beat's worth of doubt stands for, and what it is measured in. */
const USUAL: Seconds = 0.02;
const STEP: Seconds = 0.03;

const STRENGTH = CUE_NAMES.indexOf('strength');
const BASS = CUE_NAMES.indexOf('bassRise');

/** For each onset the first and last one struck with it, and how far it is from the loudest and from most bass. */
interface Chords {
  readonly first: Int32Array;
  readonly last: Int32Array;
  readonly underLoudest: Float64Array;
  readonly underBass: Float64Array;
}

const known = new WeakMap<BeatEvidence, Chords>();

function chordsOf(evidence: BeatEvidence): Chords {
  const made = known.get(evidence) ?? chordsIn(evidence);
  known.set(evidence, made);
  return made;
}

function chordsIn({ times, cues }: BeatEvidence): Chords {
  const n = times.length;
  const first = new Int32Array(n);
  const last = new Int32Array(n);
  const underLoudest = new Float64Array(n);
  const underBass = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    let a = i;
    while (a > 0 && times[i] - times[a - 1] < CHORD) a--;
    let b = i;
    while (b + 1 < n && times[b + 1] - times[i] < CHORD) b++;
    let loudest = -Infinity;
    let bass = -Infinity;
    for (let k = a; k <= b; k++) {
      loudest = Math.max(loudest, cues[k * CUES + STRENGTH]);
      bass = Math.max(bass, cues[k * CUES + BASS]);
    }
    first[i] = a;
    last[i] = b;
    underLoudest[i] = cues[i * CUES + STRENGTH] - loudest;
    underBass[i] = cues[i * CUES + BASS] - bass;
  }
  return { first, last, underLoudest, underBass };
}

function onsetOn(times: Float64Array, beat: Seconds): number {
  const next = indexFrom(times, beat);
  const before = next === times.length || (next > 0 && beat - times[next - 1] < times[next] - beat);
  const near = before ? next - 1 : next;
  return near >= 0 && Math.abs(times[near] - beat) < ON_BEAT ? near : -1;
}

/** Numbers that describe an onset's place in its chord. */
export const CHORD_INPUTS = 14;

/** What confirmed beats say of which onset of a chord is counted. */
export interface ChordHabit {
  /** Share of beats that no onset carries. */
  readonly silent: number;
  /**
   * Describes the place of an onset among those struck with it, and how like that is to where the confirmed
   * beats were: all 0 where it is struck alone.
   *
   * @param out `CHORD_INPUTS` numbers from `at` on
   */
  readonly describe: (onset: number, out: Float32Array, at: number) => void;
}

/** Learns from confirmed beats, the last ones most, which onset of a chord is counted. */
export function chordHabit(evidence: BeatEvidence, beats: readonly Seconds[]): ChordHabit {
  const { times } = evidence;
  const { first, last, underLoudest, underBass } = chordsOf(evidence);
  const isOne = [
    (k: number) => first[k] === k,
    (k: number) => last[k] === k,
    (k: number) => underLoudest[k] >= 0,
    (k: number) => underBass[k] >= 0,
  ];
  const counts = isOne.map(() => 0);
  let chords = 0;
  let silent = 0;
  let all = 0;
  let afterFirst = USUAL;
  let beforeLast = USUAL;
  for (let i = beats.length - 1, weight = 1; i >= 0 && weight > LITTLE; i--, weight *= FORGET) {
    const k = onsetOn(times, beats[i]);
    all += weight;
    if (k < 0) silent += weight;
    if (k < 0 || first[k] === last[k]) continue;
    chords += weight;
    for (const [q, is] of isOne.entries()) if (is(k)) counts[q] += weight;
    afterFirst += weight * (beats[i] - times[first[k]]);
    beforeLast += weight * (times[last[k]] - beats[i]);
  }
  const odds = counts.map((count) => Math.log((count + 0.5) / (chords - count + 0.5)));
  afterFirst /= chords + 1;
  beforeLast /= chords + 1;
  return {
    silent: (silent + 0.3) / (all + 2),
    describe: (k, out, at) => {
      if (k < 0 || first[k] === last[k]) {
        out.fill(0, at, at + CHORD_INPUTS);
        return;
      }
      const after = times[k] - times[first[k]];
      const before = times[last[k]] - times[k];
      out[at] = Math.min(3, k - first[k]);
      out[at + 1] = Math.min(3, last[k] - k);
      out[at + 2] = 10 * after;
      out[at + 3] = 10 * before;
      out[at + 4] = underLoudest[k];
      out[at + 5] = underBass[k];
      out[at + 6] = (after - afterFirst) / STEP;
      out[at + 7] = (before - beforeLast) / STEP;
      out[at + 8] = Math.abs(out[at + 6]);
      out[at + 9] = Math.abs(out[at + 7]);
      for (let q = 0; q < isOne.length; q++) out[at + 10 + q] = isOne[q](k) ? odds[q] : -odds[q];
    },
  };
}
