import { expect, test } from 'vitest';
import { CUES } from '../../shared/hear/beats/cues.ts';
import type { BeatEvidence } from '../../shared/hear/beats/evidence.ts';
import { learn, learnUnsure } from '../../shared/hear/beats/learning.ts';
import { TUNING } from '../../shared/hear/beats/tuning.ts';
import { makeRandom } from '../../shared/math/random.ts';

const random = makeRandom(4);
/** Even beats of 1.2 s, each struck. */
const beats = Array.from({ length: 30 }, (_, i) => 0.5 + 1.2 * i);
const evidence: BeatEvidence = {
  seconds: 40,
  times: Float64Array.from(beats),
  clarity: 1,
  cues: Float64Array.from({ length: beats.length * CUES }, () => 2 * random() - 1),
  fresh: Float64Array.from({ length: beats.length * 12 }, () => random()),
};

test('beats that nobody confirmed teach less than confirmed ones, and nothing of how freely tempo moves', () => {
  const usual = learn(evidence, [], undefined, TUNING);
  const unsure = learnUnsure(evidence, beats, usual, undefined, TUNING);
  const sure = learn(evidence, beats, undefined, TUNING);
  expect(unsure.tempo.level).toBeGreaterThan(usual.tempo.level);
  expect(unsure.tempo.level).toBeLessThan(sure.tempo.level);
  expect(unsure.tempo.spread).toBeGreaterThan(sure.tempo.spread);
  expect(unsure.sounding).toBeGreaterThan(usual.sounding);
  expect(unsure.sounding).toBeLessThan(sure.sounding);
  expect(unsure.tempo.freedom).toBe(usual.tempo.freedom);
  expect(sure.tempo.freedom).toBeLessThan(usual.tempo.freedom);
  expect(unsure.tempo.levelWeight).toBe(usual.tempo.levelWeight);
});
