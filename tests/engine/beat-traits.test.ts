import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { traitsIn } from '../../shared/hear/beats/traits.ts';
import { makeRandom } from '../../shared/math/random.ts';

/** Rows that carry a beat where their first two numbers say so, mostly. */
function judgedRows(n: number, width: number, seed: number) {
  const random = makeRandom(seed);
  const rows = Float64Array.from({ length: n * width }, () => 2 * random() - 1);
  const judged = Uint8Array.from({ length: n }, (_, i) =>
    rows[i * width] - rows[i * width + 1] + random() - 0.5 > 0 ? 1 : 0,
  );
  return { rows, judged, random };
}

describe('what is counted from the traits of onsets', () => {
  test('is the same to the last bit by kernels', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 0, max: 70 }),
        fc.integer({ min: 1, max: 20 }),
        fc.integer({ min: 1, max: 1e6 }),
        (n, half, seed) => {
          const width = 2 * half;
          const { rows, judged, random } = judgedRows(n, width, seed);
          const [fast, plain] = [traitsIn(rows, width), traitsIn(rows, width, null)];
          const prior = Float64Array.from({ length: width + 1 }, () => 2 * random() - 1);
          const tight = prior.map(() => 1 + 100 * random());
          const first = Math.floor(random() * (n + 1));
          const refit = (one: typeof fast) =>
            one.refitted(first, judged.subarray(first), prior, tight, 0.97);
          expect(refit(fast)).toEqual(refit(plain));
          expect(fast.sums(prior)).toEqual(plain.sums(prior));
        },
      ),
      { seed: 3, numRuns: 60 },
    );
  });

  test('rows with an odd number of columns are counted, too', () => {
    const { rows, judged } = judgedRows(9, 3, 1);
    const prior = Float64Array.of(1, 2, 3, 4);
    const [odd, plain] = [traitsIn(rows, 3), traitsIn(rows, 3, null)];
    expect(odd.sums(prior)).toEqual(plain.sums(prior));
    expect(odd.refitted(0, judged, prior, prior, 1)).toEqual(
      plain.refitted(0, judged, prior, prior, 1),
    );
  });

  test('the refitted weights tell the judged rows apart, as far as they may move', () => {
    const width = 4;
    const { rows, judged } = judgedRows(400, width, 7);
    const traits = traitsIn(rows, width);
    const prior = new Float64Array(width + 1);
    const told = (tight: number) => {
      const weights = traits.refitted(0, judged, prior, prior.slice().fill(tight), 1);
      return traits.sums(weights).filter((sum, i) => sum > 0 === (judged[i] === 1)).length / 400;
    };
    expect(told(0.1)).toBeGreaterThan(0.9);
    expect(traits.refitted(0, judged, prior, prior.slice().fill(1e9), 1)[0]).toBeCloseTo(0, 5);
  });
});
