import { expect, test } from 'vitest';
import { smoothBeats } from '../../shared/hear/beats/refine.ts';

const even = Array.from({ length: 15 }, (_, i) => 1 + 0.4 * i);
/** The middle beat as two players strike it; one of them is early. */
const early = even[7] - 0.06;
const onsets = Float64Array.from([...even, early].sort((a, b) => a - b));

function middleBeat(oddsOfEarly: number, counted: number): number {
  const odds = Float64Array.from(onsets, (time) => (time === early ? oddsOfEarly : 3));
  const times = even.slice();
  smoothBeats(times, 0, new Set(), onsets, odds, 1, counted);
  return times[7];
}

test('an onset that hardly carries a beat pulls a steady beat little', () => {
  expect(even[7] - middleBeat(-4, 1)).toBeLessThan(0.001);
  expect(even[7] - middleBeat(3, 1)).toBeGreaterThan(0.005);
});

test('all onsets pull the same where their odds are not counted', () => {
  expect(middleBeat(-4, 0)).toBe(middleBeat(3, 0));
});

test('beats that the user set stay', () => {
  const times = even.slice();
  smoothBeats(times, 0, new Set([even[7]]), onsets, new Float64Array(onsets.length), 1, 1);
  expect(times[7]).toBe(even[7]);
});
