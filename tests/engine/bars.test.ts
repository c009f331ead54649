import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { countBars as countWith } from '../../shared/hear/beats/bars.ts';
import { Chance } from '../perform/chance.ts';

/** Bars counted where nothing speaks for the middle of a bar. */
const countBars = (
  beats: readonly number[],
  ones: readonly number[],
  first: Float64Array,
  steady?: number,
) => countWith(beats, ones, { first, middle: new Float64Array(first.length) }, steady);

/** Beats half a second apart whose bar lines speak up by 2 on average, with noise of 1. */
function played(metre: number, first: number, bars: number, seed: number) {
  const chance = new Chance(seed);
  const n = metre * bars;
  const isOne = (i: number) => (i - first + metre) % metre === 0;
  return {
    beats: Array.from({ length: n }, (_, i) => 1 + i / 2),
    odds: Float64Array.from({ length: n }, (_, i) => chance.normal(isOne(i) ? 2 : -2, 1)),
    counts: Array.from({ length: n }, (_, i) => ((i - first + metre) % metre) + 1),
  };
}
const metres = fc.constantFrom(2, 3, 4);
const seeds = fc.integer({ min: 1, max: 10_000 });

describe('counting bars', () => {
  test('finds metre and place where bar lines speak up, in free and in steady time', () => {
    fc.assert(
      fc.property(
        metres,
        fc.nat({ max: 3 }),
        seeds,
        fc.constantFrom(0, 1),
        (m, first, seed, steady) => {
          const { beats, odds, counts } = played(m, first % m, 10, seed);
          const found = countBars(beats, [], odds, steady);
          const right = found.filter((count, i) => count === counts[i]).length;
          // A bar line lost in noise may shift a bar of free time.
          expect(right / counts.length).toBeGreaterThan(steady ? 0.999 : 0.85);
        },
      ),
      { seed: 1, numRuns: 200 },
    );
  });

  test('goes on with the same bars when the first beats are left out', () => {
    fc.assert(
      fc.property(metres, fc.integer({ min: 1, max: 6 }), seeds, (m, cut, seed) => {
        // Enough bars that noise does not change the metre.
        const { beats, odds } = played(m, 0, 24, seed);
        const whole = countBars(beats, [], odds, 1).slice(cut);
        expect(countBars(beats.slice(cut), [], odds.slice(cut), 1)).toEqual(whole);
      }),
      { seed: 1, numRuns: 200 },
    );
  });

  test('is right again after one beat too many or too few', () => {
    for (const at of [17, 18, 22]) {
      const { beats, odds, counts } = played(4, 0, 12, 3);
      const without = <T>(list: readonly T[]) => list.filter((_, i) => i !== at);
      const found = countBars(without(beats), [], Float64Array.from(without([...odds])));
      expect(found.slice(-16)).toEqual(counts.slice(-16));
      const extra = countBars(
        [...beats.slice(0, at), beats[at] - 0.2, ...beats.slice(at)],
        [],
        Float64Array.from([...odds.slice(0, at), -2, ...odds.slice(at)]),
      );
      expect(extra.slice(-16)).toEqual(counts.slice(-16));
      expect(extra.slice(0, 16)).toEqual(counts.slice(0, 16));
    }
  });

  test('starts a bar wherever the user says so, whatever is heard', () => {
    fc.assert(
      fc.property(
        fc.uniqueArray(fc.nat({ max: 39 }), { minLength: 1, maxLength: 5 }),
        seeds,
        (ones, seed) => {
          const { beats, odds } = played(4, 1, 10, seed);
          const said = ones.map((i) => beats[i]);
          const counts = countBars(beats, said, odds);
          for (const i of ones) expect(counts[i]).toBe(1);
          counts.forEach((count, i) => {
            if (i > 0) expect(count === 1 || count === counts[i - 1] + 1).toBe(true);
          });
        },
      ),
    );
  });

  test('a middle beat that is like a first one is not taken for it where the two are told apart', () => {
    const chance = new Chance(4);
    const beats = Array.from({ length: 64 }, (_, i) => 1 + i / 2);
    const odds = (best: number, other: number) =>
      Float64Array.from(beats, (_, i) =>
        chance.normal(i % 4 === best ? 1 : i % 4 === other ? 0.6 : -1, 0.5),
      );
    const first = odds(1, 3);
    const counts = beats.map((_, i) => ((i + 3) % 4) + 1);
    expect(countWith(beats, [], { first, middle: odds(3, 1) }, 1)).toEqual(counts);
    // With nothing known of middles every second beat starts a bar.
    expect(Math.max(...countBars(beats, [], first, 1))).toBe(2);
  });

  test('counts to four where nothing speaks, and to what two bar lines of the user enclose', () => {
    const beats = Array.from({ length: 24 }, (_, i) => i);
    const flat = new Float64Array(24);
    expect(countBars(beats, [], flat).slice(4, 12).sort()).toEqual([1, 1, 2, 2, 3, 3, 4, 4]);
    const threes = countBars(beats, [6, 9, 12], flat);
    expect(threes).toEqual(beats.map((i) => (i % 3) + 1));
    expect(countBars([0, 1, 2, 3, 4], [2], new Float64Array(5))).toEqual([3, 4, 1, 2, 3]);
    expect(countBars([], [], new Float64Array(0))).toEqual([]);
  });
});
