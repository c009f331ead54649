import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { CUES } from '../../shared/hear/beats/cues.ts';
import type { BeatEvidence } from '../../shared/hear/beats/evidence.ts';
import { oneLevel } from '../../shared/hear/beats/octaves.ts';
import type { Seconds } from '../../shared/math/units.ts';

/** Strength is the cue that speaks for a beat most (see `COMMON_SALIENCE`). */
const STRENGTH = 6;

function evidenceOf(times: readonly Seconds[], strong: (i: number) => boolean): BeatEvidence {
  const cues = new Float64Array(times.length * CUES);
  times.forEach((_, i) => {
    cues[i * CUES + STRENGTH] = strong(i) ? 1 : -1;
  });
  return {
    seconds: times[times.length - 1] + 1,
    times: Float64Array.from(times),
    clarity: 1,
    cues,
    fresh: new Float64Array(times.length * 12),
  };
}

/** Beats that breathe, with a stretch in which twice as many are shown. */
function shown(beats: number, from: number, until: number) {
  const even: Seconds[] = [];
  const all: Seconds[] = [];
  let at = 0.5;
  for (let i = 0; i < beats; i++) {
    const next = at + 0.7 * Math.exp(0.12 * Math.sin(i / 5));
    even.push(at);
    all.push(at);
    if (i >= from && i < until) all.push((at + next) / 2);
    at = next;
  }
  return { even, all };
}

describe('one level for a take', () => {
  test('a long stretch with twice as many beats is halved, to the beats that sound like beats', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 0, max: 30 }),
        fc.integer({ min: 8, max: 22 }),
        (from, many) => {
          const { even, all } = shown(64, from, from + many);
          const beats = new Set(even);
          const found = oneLevel(
            evidenceOf(all, (i) => beats.has(all[i])),
            all,
          );
          // Where the tempo changes a beat more or less may stay.
          const wrong = found?.times.filter((time) => !beats.has(time)).length;
          expect(wrong).toBeLessThanOrEqual(4);
          const missing = even.filter((time) => !found?.times.includes(time)).length;
          expect(missing).toBeLessThanOrEqual(4);
        },
      ),
    );
  });

  test('beats of one level stay as they are, whatever the tempo does', () => {
    const { even } = shown(60, 0, 0);
    expect(
      oneLevel(
        evidenceOf(even, () => true),
        even,
      ),
    ).toBeNull();
    // Three times as fast in the end, but little by little.
    const rising = Array.from({ length: 90 }, (_, i) => 60 * (1 - 4 ** (-i / 90)));
    expect(
      oneLevel(
        evidenceOf(rising, () => true),
        rising,
      ),
    ).toBeNull();
    // A few quick beats are a figure.
    const { all } = shown(64, 20, 24);
    expect(
      oneLevel(
        evidenceOf(all, () => true),
        all,
      ),
    ).toBeNull();
    for (const few of [[], [1], [1, 2]])
      expect(
        oneLevel(
          evidenceOf([1], () => true),
          few,
        ),
      ).toBeNull();
  });
});
