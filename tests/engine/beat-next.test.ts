import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { CHORD_INPUTS, chordHabit } from '../../shared/hear/beats/chords.ts';
import { CUES } from '../../shared/hear/beats/cues.ts';
import type { BeatEvidence } from '../../shared/hear/beats/evidence.ts';
import { fixBeats, heardAfter } from '../../shared/hear/beats/fixes.ts';
import {
  describeNext,
  type Known,
  MOST_NEXT,
  NEXT_INPUTS,
  nextBeats,
} from '../../shared/hear/beats/next.ts';
import type { Interval } from '../../shared/hear/beats/rhythm.ts';
import { type BeatState, NOTHING_KNOWN } from '../../shared/hear/beats/state.ts';
import type { Fix } from '../../shared/hear/heard.ts';
import { makeRandom } from '../../shared/math/random.ts';
import type { Seconds } from '../../shared/math/units.ts';

/** Beats of 0.6 s with spread chords on them and soft notes between, all later by some seconds. */
function chords(seed: number, moved: Seconds = 0): { evidence: BeatEvidence; first: Seconds[] } {
  const random = makeRandom(seed);
  const times: Seconds[] = [];
  const first: Seconds[] = [];
  for (let beat = 0; beat < 40; beat++) {
    const at = moved + 0.5 + 0.6 * beat + 0.02 * random();
    first.push(at);
    times.push(at, at + 0.03, at + 0.06, at + 0.3 + 0.02 * random());
  }
  const cues = Float64Array.from({ length: times.length * CUES }, () => 4 * random() - 2);
  const fresh = Float64Array.from({ length: times.length * 12 }, () => random() ** 4);
  const seconds = moved + 26;
  return { evidence: { seconds, times: Float64Array.from(times), clarity: 1, cues, fresh }, first };
}

/** The state after a few beats were confirmed and one more fix was made. */
function corrected({ evidence, first }: ReturnType<typeof chords>, fix: (first: Seconds[]) => Fix) {
  const shown: BeatState = { ...NOTHING_KNOWN, times: first };
  return fixBeats(evidence, shown, fix(first));
}

/** What is known then, and the intervals that it may be asked about. */
function knownAfter(evidence: BeatEvidence, state: BeatState): [Known, Interval[]] {
  const { choices } = heardAfter(evidence, state);
  if (Array.isArray(choices) || !choices.known) throw new Error('Nothing is known.');
  const { places, intervalOf, known } = choices;
  const intervals: Interval[] = [];
  for (let from = 0; from < 12; from++)
    for (let to = from + 1; to < from + 12 && to < places.times.length; to++)
      for (let parts = 1; parts <= 3; parts++) intervals.push(intervalOf(from, to, parts));
  return [known, intervals];
}

const seeds = fc.integer({ min: 1, max: 1e6 });
const fixes: ((first: Seconds[]) => Fix)[] = [
  (first) => ({ notBeat: first[10] }),
  (first) => ({ beat: first[10] + 0.06 }),
  (first) => ({ beat: first[10] + 0.3 }),
];

describe('the judgement of the next beats', () => {
  test('is bounded, and the same wherever the take starts', () => {
    fc.assert(
      fc.property(seeds, fc.constantFrom(...fixes), (seed, fix) => {
        const answers = [0, 64].map((moved) => {
          const take = chords(seed, moved);
          const [known, intervals] = knownAfter(take.evidence, corrected(take, fix));
          const describe = describeNext(known);
          const judge = nextBeats(known);
          const numbers = new Float32Array(NEXT_INPUTS);
          return intervals.map((interval) => {
            describe(interval, numbers);
            expect(numbers.every(Number.isFinite)).toBe(true);
            return judge(interval);
          });
        });
        expect(answers[0].length).toBeGreaterThan(100);
        expect(answers[1]).toHaveLength(answers[0].length);
        for (const [i, one] of answers[0].entries()) {
          expect(Math.abs(one)).toBeLessThanOrEqual(MOST_NEXT);
          expect(answers[1][i]).toBeCloseTo(one, 4);
        }
      }),
      { seed: 3, numRuns: 12 },
    );
  });

  test('is asked for only where one beat was corrected', () => {
    const take = chords(1);
    const kind = (fix: (first: Seconds[]) => Fix) => corrected(take, fix).lastFix?.kind;
    expect(fixes.map(kind)).toEqual(['struck', 'near', 'half']);
    expect(kind((first) => ({ beat: first[10] + 0.11 }))).toBe('far');
    expect(kind((first) => ({ beat: first[10] + 0.01 }))).toBeUndefined();
    expect(kind((first) => ({ one: first[10] }))).toBeUndefined();
    expect(kind(() => ({ level: 'double' }))).toBeUndefined();
  });
});

describe('which onset of a chord is counted', () => {
  test('is learned from confirmed beats, whichever it is', () => {
    const { evidence, first } = chords(2);
    const describe = (counted: number, onset: number) => {
      const beats = first.slice(0, 12).map((time) => time + 0.03 * counted);
      const out = new Float32Array(CHORD_INPUTS);
      chordHabit(evidence, beats).describe(4 * 20 + onset, out, 0);
      return out;
    };
    for (const [counted, other] of [
      [0, 2],
      [2, 0],
    ]) {
      const [own, wrong] = [describe(counted, counted), describe(counted, other)];
      // Nearer to where confirmed beats were after the chord's first onset and before its last.
      expect(own[8]).toBeLessThan(wrong[8]);
      expect(own[9]).toBeLessThan(wrong[9]);
      // First and last: odds for the one that was counted, against the other.
      expect(own[10 + counted / 2]).toBeGreaterThan(0);
      expect(wrong[10 + counted / 2]).toBeLessThan(0);
    }
  });

  test('says nothing of an onset struck alone', () => {
    const { evidence, first } = chords(2);
    const out = new Float32Array(CHORD_INPUTS).fill(1);
    chordHabit(evidence, first.slice(0, 12)).describe(4 * 20 + 3, out, 0);
    expect(out.every((x) => x === 0)).toBe(true);
  });
});
