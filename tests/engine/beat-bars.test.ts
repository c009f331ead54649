import { describe, expect, test } from 'vitest';
import { BAR_INPUTS, barHabit } from '../../shared/hear/beats/bar-place.ts';
import { CUE_NAMES, CUES } from '../../shared/hear/beats/cues.ts';
import type { Seconds } from '../../shared/math/units.ts';

const BASS = CUE_NAMES.indexOf('bassRise');

/** Bars of so many beats of half a second, bass on the first; nothing sounds on the last where `silent` says so. */
function bars(beatsPerBar: number, count: number, silent = false) {
  const times: Seconds[] = [];
  const cues: number[] = [];
  const beats: Seconds[] = [];
  for (let beat = 0; beat < count; beat++) {
    const at = 0.5 + 0.5 * beat;
    beats.push(at);
    const place = beat % beatsPerBar;
    if (silent && place === beatsPerBar - 1) continue;
    times.push(at);
    cues.push(...Array.from({ length: CUES }, (_, c) => (c === BASS ? (place === 0 ? 2 : -1) : 0)));
  }
  return { onsets: { times: Float64Array.from(times), cues: Float64Array.from(cues) }, beats };
}

/** What the first `known` beats say of an interval from the last of them to an onset. */
function asked({ onsets, beats }: ReturnType<typeof bars>, known: number, to: Seconds, parts = 1) {
  const out = new Float32Array(BAR_INPUTS);
  const last = onsets.times.indexOf(to);
  const interval = { first: 0, last, start: beats[known - 1], end: to, parts };
  barHabit(onsets, beats.slice(0, known))(interval, out, 0);
  return out;
}

describe('the bar', () => {
  test('says that bass comes after so many beats', () => {
    const take = bars(3, 30);
    const at = (beat: number) => take.beats[beat];
    // The next beat, 21, has the bass.
    expect(asked(take, 21, at(21))[0]).toBeGreaterThan(0.3);
    expect(asked(take, 21, at(22))[0]).toBeLessThan(asked(take, 21, at(21))[0] - 1);
    expect(asked(take, 21, at(21))[1]).toBeGreaterThan(1);
  });

  test('says where a beat is silent', () => {
    const take = bars(4, 40, true);
    const to = take.beats[24];
    // From 22 the silent beat 23 lies between.
    const [one, two] = [1, 2].map((parts) => asked(take, 23, to, parts)[0]);
    expect(two).toBeGreaterThan(one + 0.5);
  });

  test('says nothing of intervals that begin elsewhere, and little while little is known', () => {
    const take = bars(3, 30);
    const out = new Float32Array(BAR_INPUTS).fill(1);
    const interval = { first: 22, last: 23, start: take.beats[22], end: take.beats[23], parts: 1 };
    barHabit(take.onsets, take.beats.slice(0, 21))(interval, out, 0);
    expect([...out]).toEqual([0, 0]);
    expect(Math.abs(asked(take, 2, take.beats[2])[0])).toBeLessThan(0.5);
  });
});
