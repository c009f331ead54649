import { describe, expect, test } from 'vitest';
import { CUES } from '../../shared/hear/beats/cues.ts';
import type { BeatEvidence } from '../../shared/hear/beats/evidence.ts';
import { RECALL_INPUTS, recallCounts } from '../../shared/hear/beats/recall.ts';
import { TUNING } from '../../shared/hear/beats/tuning.ts';
import { makeRandom } from '../../shared/math/random.ts';
import type { Seconds } from '../../shared/math/units.ts';

/** Where notes of a phrase of ten beats lie; one is held for three beats. */
const NOTES = [0, 1, 1.5, 2, 3, 6, 6.5, 7, 8, 8.75];
const HELD = 4;
const BEATS = 10;

/** The phrase, and the phrase again at another tempo and so many semitones higher, each note of a sound of its own. */
function returning(tempo: Seconds, semitones: number) {
  const random = makeRandom(5);
  const sounds = NOTES.map(() => ({
    cues: Array.from({ length: CUES }, () => 2 * random() - 1),
    pitch: Math.floor(12 * random()),
  }));
  const times: Seconds[] = [];
  const beats: Seconds[] = [];
  const cues: number[] = [];
  const fresh: number[] = [];
  let at = 0.5;
  for (const [beat, up] of [
    [0.5, 0],
    [tempo, semitones],
  ]) {
    for (const [i, note] of NOTES.entries()) {
      times.push(at + note * beat);
      cues.push(...sounds[i].cues);
      const class_ = (sounds[i].pitch + up) % 12;
      fresh.push(...Array.from({ length: 12 }, (_, c) => (c === class_ ? 1 : 0)));
    }
    for (let b = 0; b < BEATS; b++) beats.push(at + b * beat);
    at += BEATS * beat;
  }
  const evidence: BeatEvidence = {
    seconds: at + 1,
    times: Float64Array.from(times),
    clarity: 1,
    cues: Float64Array.from(cues),
    fresh: Float64Array.from(fresh),
  };
  return { evidence, beats };
}

/** What is remembered of the held note's return in so many beats, where the beats before it are confirmed. */
function asked(tempo: Seconds, semitones: number, parts: number) {
  const { evidence, beats } = returning(tempo, semitones);
  const first = NOTES.length + HELD;
  const { times } = evidence;
  const confirmed = beats.slice(0, BEATS + 4);
  const out = new Float32Array(RECALL_INPUTS);
  const interval = { first, last: first + 1, start: times[first], end: times[first + 1], parts };
  recallCounts(evidence, confirmed, times[first] + 9, TUNING)(interval, out, 0);
  return out;
}

/** Where the share of passages that were counted so lies, of all and of those that begin on a beat. */
const OF_PASSAGES = [RECALL_INPUTS / 2, RECALL_INPUTS / 2 + 1];

/** Where all that was remembered lies. */
const WEIGHT = RECALL_INPUTS / 2 + 2;

describe('beats between onsets of a passage that returns', () => {
  test.each([
    [0.5, 0],
    [0.62, 0],
    [0.42, 2],
    [0.6, 7],
  ])('are counted as they were: tempo %f, %i semitones higher', (tempo, semitones) => {
    const ways = [1, 2, 3, 4, 5].map((parts) => asked(tempo, semitones, parts));
    for (const share of OF_PASSAGES) {
      const shares = ways.map((way) => way[share]);
      expect(shares.indexOf(Math.max(...shares))).toBe(2);
      expect(shares[2]).toBeGreaterThan(shares[1] + 1);
    }
  });

  test('weigh less where little was confirmed, and nothing where no onset is', () => {
    const { evidence, beats } = returning(0.5, 0);
    const { times } = evidence;
    const out = new Float32Array(RECALL_INPUTS);
    const recall = recallCounts(evidence, beats.slice(0, 2), 9, TUNING);
    recall({ first: 3, last: 4, start: times[3], end: times[4], parts: 1 }, out, 0);
    expect(out.every(Number.isFinite)).toBe(true);
    expect(out[WEIGHT]).toBeLessThan(asked(0.5, 0, 3)[WEIGHT] - 1);
    recall({ first: 3, last: -1, start: times[3], end: times[3] + 0.4, parts: 1 }, out, 0);
    expect(out.every((one) => one === 0)).toBe(true);
  });
});
