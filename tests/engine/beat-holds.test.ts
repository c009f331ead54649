import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { HOLD_INPUTS, holdHabit } from '../../shared/hear/beats/holds.ts';
import { makeRandom } from '../../shared/math/random.ts';
import type { Seconds } from '../../shared/math/units.ts';

/** Phrases of six struck beats of half a second and a hold of so many beats, each so much longer. */
function phrases(lasts: number, longer: number): { onsets: Float64Array; beats: Seconds[] } {
  const onsets: Seconds[] = [];
  const beats: Seconds[] = [];
  let at = 1;
  for (let phrase = 0; phrase < 4; phrase++) {
    for (let beat = 0; beat < 6; beat++, at += 0.5) {
      onsets.push(at);
      beats.push(at);
    }
    at -= 0.5;
    for (let beat = 1; beat < lasts; beat++) beats.push(at + beat * 0.5 * longer);
    at += lasts * 0.5 * longer;
  }
  // What ends the last hold; then the beats up to the next one.
  for (let beat = 0; beat < 6; beat++, at += 0.5) {
    onsets.push(at);
    beats.push(at);
  }
  return { onsets: Float64Array.from(onsets), beats };
}

/** What the confirmed beats say of a silence of some length in so many parts. */
function asked({ onsets, beats }: ReturnType<typeof phrases>, gap: Seconds, parts: number) {
  const out = new Float32Array(HOLD_INPUTS);
  holdHabit(onsets, beats)(gap, gap, parts, out, 0);
  return out;
}

describe('held sounds', () => {
  test('go on in time with players who did so', () => {
    const take = phrases(4, 1);
    const ways = [1, 2, 3, 4, 5].map((parts) => asked(take, 2.05, parts));
    const best = ways.map((way) => way[1] + way[2]);
    expect(best.indexOf(Math.max(...best))).toBe(3);
    expect(ways[3][2]).toBeGreaterThan(0.5);
    expect(ways[2][2]).toBeLessThan(0);
    expect(ways[3][4]).toBeLessThan(ways[2][4]);
  });

  test('are waited on with players who waited', () => {
    const take = phrases(2, 1.6);
    const ways = [1, 2, 3, 4].map((parts) => asked(take, 1.6, parts));
    const best = ways.map((way) => way[1] + way[2]);
    expect(best.indexOf(Math.max(...best))).toBe(1);
    expect(ways[1][2]).toBeGreaterThan(ways[2][2] + 1);
  });

  test('say nothing of intervals that are none', () => {
    const take = phrases(2, 1);
    expect([...asked(take, 0.5, 1)]).toEqual([0, 0, 0, 0, 0, 0]);
    const out = new Float32Array(HOLD_INPUTS).fill(1);
    // Something sounds long after the beat that leads into it.
    holdHabit(take.onsets, take.beats)(1, 1.3, 2, out, 0);
    expect([...out]).toEqual([0, 0, 0, 0, 0, 0]);
  });

  test('are described by finite numbers wherever onsets and beats lie', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 1e6 }), fc.integer({ min: 2, max: 40 }), (seed, n) => {
        const random = makeRandom(seed);
        const rising = (count: number, most: number) => {
          let at = 0;
          return Float64Array.from({ length: count }, () => {
            at += 0.03 + most * random() ** 2;
            return at;
          });
        };
        const beats = [...rising(n, 2)];
        const describeHold = holdHabit(rising(3 * n, 2), beats);
        const out = new Float32Array(HOLD_INPUTS);
        for (let parts = 1; parts <= 16; parts++) {
          const gap = 6 * random();
          describeHold(gap * random(), gap, parts, out, 0);
          expect(out.every(Number.isFinite)).toBe(true);
        }
      }),
      { seed: 6, numRuns: 100 },
    );
  });
});
