import fc from 'fast-check';
import { expect, test } from 'vitest';
import type { Beat } from '../../shared/hear/heard.ts';
import { localTempo } from '../../src/app/strip/tempo-curve.ts';

const beatsOf = (gaps: readonly number[], confidence = 0.9) => {
  let time = 1;
  const times = [time, ...gaps.map((gap) => (time += gap))];
  return times.map((at): Beat => ({ time: at, confidence, count: 1, by: 'heard' }));
};

test('all of the line lies within its bounds, a stretch at twice the tempo too', () => {
  fc.assert(
    fc.property(
      fc.array(fc.double({ min: 0.1, max: 2, noNaN: true }), { minLength: 2, maxLength: 60 }),
      (gaps) => {
        const { pieces, low, high } = localTempo(beatsOf(gaps));
        expect(low).toBeLessThan(high);
        expect(pieces.flat()).toHaveLength(gaps.length);
        for (const { bpm } of pieces.flat()) {
          expect(bpm).toBeGreaterThanOrEqual(low);
          expect(bpm).toBeLessThanOrEqual(high);
        }
      },
    ),
  );
});

test('where no beat is believed, and over a rest, the line has a gap', () => {
  expect(localTempo(beatsOf([0.6, 0.6, 3, 0.6, 0.6])).pieces.map((piece) => piece.length)).toEqual([
    2, 2,
  ]);
  expect(localTempo(beatsOf([0.6, 0.6], 0.2))).toMatchObject({ pieces: [], median: null });
});
