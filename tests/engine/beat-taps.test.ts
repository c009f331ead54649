import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { gatherBeatEvidence, inferBeats } from '../../shared/hear/beats/beats.ts';
import type { Beat, Fix } from '../../shared/hear/heard.ts';
import { hearOnsets } from '../../shared/hear/onsets/onsets.ts';
import { median } from '../../shared/math/median.ts';
import { makeRandom } from '../../shared/math/random.ts';
import type { Seconds } from '../../shared/math/units.ts';

const rate = 22050;
const seconds = 30;

/** Hands clapping over noise. */
function claps(every: Seconds, jitter: Seconds, seed: number) {
  const random = makeRandom(seed);
  const samples = Float32Array.from({ length: rate * seconds }, () => 0.003 * (random() * 2 - 1));
  for (let time = 0.5; time < seconds - 0.3; time += every) {
    const at = Math.round((time + jitter * (random() - 0.5)) * rate);
    for (let i = 0; i < 1500; i++) samples[at + i] += 0.5 * (random() * 2 - 1) * Math.exp(-i / 250);
  }
  const audio = { sampleRate: rate, channels: [samples] };
  return gatherBeatEvidence(audio, hearOnsets(audio));
}

/** Median interval of the beats in a stretch. */
function interval(beats: readonly Beat[], from: Seconds, until: Seconds): Seconds {
  const times = beats.map((beat) => beat.time).filter((time) => time > from && time < until);
  return median(times.slice(1).map((time, i) => time - times[i]));
}

const taps = (from: Seconds, every: Seconds, many: number, by?: 'tapped'): Fix[] =>
  Array.from({ length: many }, (_, i) => ({ beat: from + i * every, ...(by && { by }) }));

describe('tapping along', () => {
  const evidence = claps(0.26, 0.02, 1);

  test('claps tapped at another level than is shown are beats at that level on both sides of the taps', () => {
    const shown = interval(inferBeats(evidence, []), 0, seconds);
    const every = shown < 0.4 ? 0.52 : 0.26;
    expect(Math.abs(Math.log(shown / every))).toBeGreaterThan(0.6);
    for (const by of ['tapped', undefined] as const) {
      const beats = inferBeats(evidence, taps(0.5 + 0.26 * 40, every, 6, by));
      // Who sets beats between those shown may as well be adding the one that is missing.
      for (const [from, until] of [
        [0, 10],
        [10.7, 10.8 + 5 * every],
        [11 + 5 * every, seconds],
      ])
        if (by === 'tapped' || every > shown)
          expect(interval(beats, from, until)).toBeCloseTo(every, 1);
    }
  });

  test('every tap is a beat and nothing lies between them, wherever and however fast they are', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 1, max: 15, noNaN: true }),
        fc.double({ min: 0.3, max: 1, noNaN: true }),
        fc.integer({ min: 2, max: 7 }),
        (from, every, many) => {
          const fixes = taps(from, every, many, 'tapped');
          const times = inferBeats(evidence, fixes).map((beat) => beat.time);
          const last = from + (many - 1) * every;
          const inside = times.filter((time) => time >= from - 1e-9 && time <= last + 1e-9);
          expect(inside).toEqual(fixes.map((fix) => ('beat' in fix ? fix.beat : 0)));
        },
      ),
      { seed: 6, numRuns: 25 },
    );
  });

  test('who sets lone beats from left to right is not tapping: what they pass over stays', () => {
    const shown = inferBeats(evidence, []).map((beat) => beat.time);
    const fixes: Fix[] = [10, 14].map((i) => ({ beat: shown[i] + 0.06, by: 'moved' }));
    const times = inferBeats(evidence, fixes).map((beat) => beat.time);
    for (const i of [11, 12, 13])
      expect(times.some((time) => Math.abs(time - shown[i]) < 0.1)).toBe(true);
  });
});
