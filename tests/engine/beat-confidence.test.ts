import { expect, test } from 'vitest';
import { confidenceCues } from '../../shared/hear/beats/confidence.ts';
import type { BeatEvidence } from '../../shared/hear/beats/evidence.ts';

const every = (interval: number, count: number, from = 1) =>
  Array.from({ length: count }, (_, i) => from + i * interval);

/** What is told of `beats` by onsets of which each is as like a beat as `like` says. */
function cuesOf(beats: readonly number[], onsets: readonly number[], like: readonly number[]) {
  const evidence = { times: Float64Array.from(onsets) } as BeatEvidence;
  return confidenceCues(evidence, beats, Float64Array.from(like));
}

test('a beat is told by its own onset, the likest one if there are several', () => {
  const beats = every(0.6, 20);
  const onsets = [...beats.slice(0, 10), beats[10] - 0.02, beats[10] + 0.02, ...beats.slice(12)];
  const like = onsets.map((time) => (time < beats[10] ? 1 : time < beats[11] ? time : 2));
  const cues = cuesOf(beats, onsets, like);
  expect(cues).toHaveLength(beats.length);
  expect(cues[3].slice(0, 3)).toEqual([1, 1, 1]);
  expect(cues[10].slice(0, 3)).toEqual([1, 1, beats[10] + 0.02]);
  expect(cues[11].slice(0, 3)).toEqual([1, 0, 0]);
});

test('even beats are as far apart as usual and their tempo keeps still', () => {
  const beats = every(0.6, 20);
  for (const [, , , unusual, around, leftOut, moves] of cuesOf(beats, beats, beats)) {
    expect(unusual).toBeCloseTo(0, 9);
    expect(around).toBeGreaterThan(0);
    expect(leftOut).toBe(0);
    expect(moves).toBeCloseTo(0, 9);
  }
});

test('beats read at twice the tempo in one stretch stand out, and so do onsets left out elsewhere', () => {
  const beats = [...every(0.6, 20), ...every(0.3, 6, 12.7), ...every(0.6, 20, 14.8)];
  const between = every(0.6, 6, 2.5);
  const onsets = [...beats, ...between].sort((a, b) => a - b);
  const cues = cuesOf(
    beats,
    onsets,
    onsets.map(() => 0),
  );
  expect(cues[22][3]).toBeCloseTo(Math.log(2), 6);
  expect(cues[10][3]).toBeCloseTo(0, 6);
  // Around the seventh beat six onsets of even odds are left out, for thirteen beats.
  expect(cues[6][5]).toBeCloseTo((6 * 0.5) / 13, 6);
  expect(cues[35][5]).toBeCloseTo(0, 6);
  expect(cues[20][6]).toBeGreaterThan(cues[40][6]);
});

test('one beat alone, two and none are told of, too', () => {
  expect(cuesOf([], [1, 2], [0, 0])).toEqual([]);
  for (const beats of [[1], [1, 2]])
    for (const cues of cuesOf(beats, [1], [0.5]))
      for (const cue of cues) expect(Number.isFinite(cue)).toBe(true);
});
