import { afterEach, describe, expect, test, vi } from 'vitest';
import { CUES } from '../../shared/hear/beats/cues.ts';
import type { BeatEvidence } from '../../shared/hear/beats/evidence.ts';
import type { Fix } from '../../shared/hear/heard.ts';
import { makeRandom } from '../../shared/math/random.ts';

/** Notes in free time, some of them on a beat that breathes, a figure that keeps coming back. */
function played(seed: number): { evidence: BeatEvidence; beats: number[] } {
  const random = makeRandom(seed);
  const beats: number[] = [];
  const times: number[] = [];
  const onBeat: boolean[] = [];
  let at = 0.4;
  for (let i = 0; i < 90; i++) {
    const interval = 0.6 * Math.exp(0.2 * Math.sin(i / 4) + 0.06 * (random() - 0.5));
    beats.push(at);
    for (const [part, odds] of [
      [0, 0.9],
      [1 / 3, 0.3],
      [1 / 2, i % 4 === 1 ? 0.9 : 0.3],
      [2 / 3, i % 8 > 5 ? 0.8 : 0.1],
    ])
      if (random() < odds) {
        times.push(at + part * interval + 0.01 * random());
        onBeat.push(part === 0);
      }
    at += interval;
  }
  const n = times.length;
  const cues = Float64Array.from(
    { length: n * CUES },
    (_, c) => random() * 2 - 1 + (onBeat[Math.floor(c / CUES)] ? 0.5 : -0.2),
  );
  const fresh = Float64Array.from({ length: n * 12 }, () => random() ** 4);
  return {
    evidence: { seconds: at + 1, times: Float64Array.from(times), clarity: 1, cues, fresh },
    beats,
  };
}

afterEach(() => {
  vi.doUnmock('../../shared/math/kernel.ts');
  vi.resetModules();
});

describe('beats without kernels', () => {
  test('are the same, fix after fix', async () => {
    const fast = await import('../../shared/hear/beats/beats.ts');
    vi.resetModules();
    vi.doMock('../../shared/math/kernel.ts', () => ({
      KernelRoom: class {},
      kernels: () => null,
      ownKernels: () => null,
    }));
    const plain = await import('../../shared/hear/beats/beats.ts');
    expect(plain.inferBeats).not.toBe(fast.inferBeats);
    for (const seed of [1, 2, 3]) {
      const { evidence, beats } = played(seed);
      const fixes: Fix[] = [3, 9, 20, 21, 40, 12, 60].map((i) => ({ beat: beats[i] }));
      for (let many = 0; many <= fixes.length; many++) {
        const some = fixes.slice(0, many);
        expect(plain.inferBeats(evidence, some)).toEqual(fast.inferBeats(evidence, some));
      }
    }
  });
});
