import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { CUES } from '../../shared/hear/beats/cues.ts';
import type { BeatEvidence } from '../../shared/hear/beats/evidence.ts';
import { comparedSlowly, likenessOf } from '../../shared/hear/beats/likeness.ts';
import { makeRandom } from '../../shared/math/random.ts';

const random = makeRandom(3);
const length = 14;
/** A passage of single notes: gaps between them, pitch classes, and how each sounds. */
const gaps = Array.from({ length }, () => 0.15 + 0.6 * random());
const notes = Array.from({ length }, () => Math.floor(12 * random()));
const sounds = Array.from({ length }, () => Array.from({ length: CUES }, () => 2 * random() - 1));

/** The passage, something else as long, and the passage again. */
function played(transposed: number, slower: number): BeatEvidence {
  const n = 3 * length;
  const times = new Float64Array(n);
  const cues = new Float64Array(n * CUES);
  const fresh = new Float64Array(n * 12);
  const other = makeRandom(8);
  let at = 0.5;
  for (let i = 0; i < n; i++) {
    const k = i % length;
    const own = i >= length && i < 2 * length;
    at += own ? 0.15 + 0.6 * other() : gaps[k] * (i < length ? 1 : slower);
    times[i] = at;
    const note = own
      ? Math.floor(12 * other())
      : (notes[k] + (i < length ? 0 : transposed) + 12) % 12;
    fresh[i * 12 + note] = 1;
    for (let c = 0; c < CUES; c++) cues[i * CUES + c] = own ? 2 * other() - 1 : sounds[k][c];
  }
  return { seconds: at + 1, times, clarity: 1, cues, fresh };
}

describe('likeness of passages', () => {
  test('what returns is most like itself, in any transposition and a little slower', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 0, max: 11 }),
        fc.double({ min: 0.85, max: 1.2, noNaN: true }),
        (transposed, slower) => {
          const { reach, weights } = likenessOf(played(transposed, slower));
          for (let i = 2 * length + 1; i < 3 * length; i++) {
            const row = weights.subarray(i * reach, (i + 1) * reach);
            // Columns run with the earlier onset, the last one is the onset just before.
            expect(reach - row.indexOf(Math.max(...row))).toBe(2 * length);
          }
        },
      ),
      { numRuns: 30 },
    );
  });

  test('a take that is transposed as a whole is as like itself as before', () => {
    const evidence = played(5, 1);
    const moved = new Float64Array(evidence.fresh.length);
    moved.forEach((_, at) => {
      moved[at] = evidence.fresh[at - (at % 12) + ((at + 12 - 3) % 12)];
    });
    const before = likenessOf(evidence);
    const after = likenessOf({ ...evidence, fresh: moved });
    after.weights.forEach((weight, at) => {
      expect(weight).toBeCloseTo(before.weights[at], 4);
    });
  });

  test('comes out of the kernels as of the plain loops', () => {
    fc.assert(
      fc.property(fc.integer({ min: 2, max: 90 }), fc.integer({ min: 1, max: 1e6 }), (n, seed) => {
        const chance = makeRandom(seed);
        let at = 0;
        const times = Float64Array.from({ length: n }, () => {
          at += 0.03 + chance() ** 2;
          return at;
        });
        const cues = Float64Array.from({ length: n * CUES }, () => 4 * chance() - 2);
        const fresh = Float64Array.from({ length: n * 12 }, () => 0.6 * chance() ** 2);
        const evidence = { seconds: at, times, clarity: 1, cues, fresh };
        const fast = likenessOf(evidence);
        const slow = comparedSlowly(evidence);
        expect(fast.reach).toBe(slow.reach);
        expect(fast.weights).toHaveLength(slow.weights.length);
        fast.weights.forEach((weight, place) => {
          expect(Math.abs(weight / slow.weights[place] - 1) || 0).toBeLessThan(2e-5);
        });
      }),
      { seed: 2, numRuns: 12 },
    );
  });

  test('one onset, and none', () => {
    const evidence = played(0, 1);
    for (const n of [0, 1])
      expect(
        likenessOf({ ...evidence, times: evidence.times.slice(0, n) }).weights.length,
      ).toBeLessThanOrEqual(n);
  });
});
