import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { beatsInside, type Gap } from '../../shared/hear/beats/silent.ts';
import { makeRandom } from '../../shared/math/random.ts';

const gaps = fc.record({
  seed: fc.integer({ min: 1, max: 1e6 }),
  parts: fc.integer({ min: 2, max: 6 }),
  even: fc.double({ min: 0.2, max: 1.2, noNaN: true }),
  before: fc.option(fc.double({ min: 0.1, max: 3, noNaN: true }), { nil: undefined }),
  after: fc.option(fc.double({ min: 0.1, max: 3, noNaN: true }), { nil: undefined }),
});

function gapOf(
  { parts, even, before, after }: Omit<Gap, 'start' | 'end'> & { even: number },
  start: number,
): Gap {
  return { start, end: start + parts * even, parts, before, after };
}

function onsetsAround(seed: number, start: number): Float64Array {
  const random = makeRandom(seed);
  return Float64Array.from({ length: 30 }, () => start - 2 + 8 * random()).sort();
}

describe('beats where nothing sounds', () => {
  test('rise inside their gap, each within its own beat', () => {
    fc.assert(
      fc.property(gaps, (one) => {
        const gap = gapOf(one, 3);
        const times = beatsInside(onsetsAround(one.seed, 3), gap, 1);
        expect(times.length).toBe(one.parts - 1);
        for (const [i, time] of times.entries())
          expect(Math.abs((time - 3) / one.even - (i + 1))).toBeLessThan(0.41);
      }),
    );
  });

  test('lie as far into it wherever the take starts', () => {
    fc.assert(
      fc.property(gaps, (one) => {
        const here = beatsInside(onsetsAround(one.seed, 4), gapOf(one, 4), 1);
        const later = beatsInside(onsetsAround(one.seed, 36), gapOf(one, 36), 1);
        for (const [i, time] of here.entries()) expect(later[i] - 32).toBeCloseTo(time, 5);
      }),
    );
  });

  test('are even where no weight is given, and where there are many', () => {
    const even = [1, 2, 3, 4].map((m) => 2 + 0.5 * m);
    const five = { start: 2, end: 4.5, parts: 5 };
    expect(beatsInside(onsetsAround(1, 2), five, 1)).toEqual(even);
    const two = { start: 2, end: 3, parts: 2 };
    expect(beatsInside(onsetsAround(1, 2), two, 0)).toEqual([2.5]);
  });

  test('come where onsets on either side halve both beats', () => {
    const halved = (beat: number) => {
      const onsets = [9.5, 10, (10 + beat) / 2, (beat + 11.2) / 2, 11.2, 11.8];
      return beatsInside(Float64Array.from(onsets), { start: 10, end: 11.2, parts: 2 }, 1)[0];
    };
    expect(halved(10.5)).toBeLessThan(10.58);
    expect(halved(10.7)).toBeGreaterThan(10.62);
  });
});
