import fc from 'fast-check';
import { expect, test } from 'vitest';
import { reachEnds } from '../../shared/hear/beats/ends.ts';

const beats = Array.from({ length: 12 }, (_, i) => 2 + 0.5 * i);
const onsets = Float64Array.from([0.52, 1.01, 1.26, ...beats, 7.98, 8.7]);

test('beats go on as far as anybody plays, on onsets where there are some', () => {
  const whole = reachEnds(beats, false, onsets, []);
  expect(whole.slice(0, 3)).toEqual([0.52, 1.01, 1.5].map((time) => expect.closeTo(time, 1)));
  expect(whole).toContain(1.01);
  expect(whole).toContain(7.98);
  expect(whole[whole.length - 1]).toBeCloseTo(8.48, 2);
});

test('none comes before a confirmed first beat, nor where the user struck one', () => {
  expect(reachEnds(beats, true, onsets, [])[0]).toBe(beats[0]);
  expect(reachEnds(beats, false, onsets, [{ from: 1.2, until: 1.8 }])[0]).toBe(beats[0]);
  const struck = [{ from: 7.8, until: 8.2 }];
  expect(reachEnds(beats, true, onsets, struck)).toEqual(beats);
});

test('beats stay as they are and rise', () => {
  fc.assert(
    fc.property(
      fc.array(fc.double({ min: 0, max: 30, noNaN: true }), { minLength: 1, maxLength: 80 }),
      fc.double({ min: 0.2, max: 1.5, noNaN: true }),
      fc.integer({ min: 0, max: 12 }),
      (times, interval, count) => {
        const shown = Array.from({ length: count }, (_, i) => 5 + i * interval);
        const whole = reachEnds(shown, false, Float64Array.from(times).sort(), []);
        expect(whole).toEqual(expect.arrayContaining(shown));
        for (let i = 1; i < whole.length; i++) expect(whole[i]).toBeGreaterThan(whole[i - 1]);
      },
    ),
  );
});
