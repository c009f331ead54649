import { describe, expect, test } from 'vitest';
import { CUES } from '../../shared/hear/beats/cues.ts';
import { NO_MEMORY, recalled, remember } from '../../shared/hear/beats/memory.ts';
import { PARTS, TUNING } from '../../shared/hear/beats/tuning.ts';
import { makeRandom } from '../../shared/math/random.ts';

/** Beats half a second apart; on each of them one figure, between them another. */
function played(n: number) {
  const random = makeRandom(8);
  const times = Float64Array.from({ length: n }, (_, i) => 1 + i * 0.25 + 0.01 * random());
  const cues = Float64Array.from(
    { length: n * CUES },
    (_, c) => (Math.floor(c / CUES) % 2) * 3 + random(),
  );
  const fresh = Float64Array.from({ length: n * 12 }, (_, c) =>
    c % 12 === (Math.floor(c / 12) % 2) * 7 ? 1 : 0.1 * random(),
  );
  const beats = Array.from({ length: n / 2 }, (_, i) => times[2 * i]);
  return { evidence: { seconds: 2 + n / 4, times, clarity: 1, cues, fresh }, beats };
}
const usual = new Float64Array(PARTS).fill(1 / PARTS);

describe('what is remembered of onsets', () => {
  test('by kernels is what plain loops remember', () => {
    const { evidence, beats } = played(120);
    let fast = NO_MEMORY;
    let plain = NO_MEMORY;
    // A few beats more, many more, none more, and fewer again.
    for (const many of [3, 4, 30, 30, 12]) {
      fast = remember(evidence, fast, beats.slice(0, many), TUNING);
      plain = remember(evidence, plain, beats.slice(0, many), TUNING, null);
      expect(fast.taught).toBe(plain.taught);
      expect(plain.tallies.some((one) => one > 0)).toBe(true);
      fast.tallies.forEach((one, at) => {
        expect(Math.abs(one / plain.tallies[at] - 1) || 0).toBeLessThan(2e-5);
      });
    }
  });

  test('a bit at a time is the same as all at once', () => {
    const { evidence, beats } = played(80);
    const once = remember(evidence, NO_MEMORY, beats.slice(0, 25), TUNING);
    let bit = NO_MEMORY;
    for (const many of [2, 9, 10, 25]) bit = remember(evidence, bit, beats.slice(0, many), TUNING);
    expect(bit.taught).toBe(once.taught);
    const after = bit.taught * (bit.tallies.length / evidence.times.length);
    expect(bit.tallies.subarray(after)).toEqual(once.tallies.subarray(after));
  });

  test('speaks for onsets like those on beats, and against the others', () => {
    const { evidence, beats } = played(120);
    const memory = remember(evidence, NO_MEMORY, beats.slice(0, 30), TUNING);
    const { near, gains } = recalled(memory, usual, memory.taught, TUNING);
    for (let i = memory.taught + 4; i < 110; i++) {
      expect(Math.sign(near[i * PARTS])).toBe(i % 2 === 0 ? 1 : -1);
      expect(gains[i * PARTS] > 0).toBe(i % 2 === 0);
    }
  });
});
