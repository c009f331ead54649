import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  type BeatEvidence,
  fixBeats,
  gatherBeatEvidence,
  inferBeats,
  shownBeats,
  startBeats,
} from '../../shared/hear/beats/beats.ts';
import { heardAfter } from '../../shared/hear/beats/fixes.ts';
import type { Beat, Fix } from '../../shared/hear/heard.ts';
import { hearAttacks } from '../../shared/hear/onsets/onsets.ts';
import { makeRandom } from '../../shared/math/random.ts';
import type { Seconds } from '../../shared/math/units.ts';
import type { Audio } from '../../shared/take/audio.ts';
import { correctBeats } from '../metrics/correcting-person.ts';

const rate = 22050;

/** Struck sounds at given times, louder where `loud` says so. */
function struck(times: readonly Seconds[], loud: (i: number) => number = () => 1): Audio {
  const seconds = (times[times.length - 1] ?? 0) + 2;
  const samples = new Float32Array(Math.round(seconds * rate));
  const random = makeRandom(11);
  times.forEach((time, k) => {
    const from = Math.round(time * rate);
    for (let i = 0; i < 3000 && from + i < samples.length; i++) {
      const sound = Math.sin(i * 0.05) + 0.5 * Math.sin(i * 0.11) + 0.2 * (random() - 0.5);
      samples[from + i] += 0.3 * loud(k) * Math.exp(-i / 700) * sound;
    }
  });
  return { sampleRate: rate, channels: [samples] };
}

function evidenceOf(times: readonly Seconds[], loud?: (i: number) => number): BeatEvidence {
  const onsets = times.map((time) => ({ time, strength: 0.5 }));
  return gatherBeatEvidence(struck(times, loud), onsets);
}

const timesOf = (beats: readonly Beat[]): Seconds[] => beats.map((beat) => beat.time);

/** Beats that breathe, eighths between most of them. */
function breathing(count: number, seed: number): { beats: Seconds[]; onsets: Seconds[] } {
  const random = makeRandom(seed);
  const beats: Seconds[] = [];
  const onsets: Seconds[] = [];
  let at = 0.4;
  for (let i = 0; i < count; i++) {
    const interval = 0.62 * Math.exp(0.22 * Math.sin(i / 3.1) + 0.05 * (random() - 0.5));
    beats.push(at);
    onsets.push(at);
    if (random() < 0.7) onsets.push(at + interval * (0.5 + 0.02 * (random() - 0.5)));
    at += interval;
  }
  return { beats, onsets };
}

const piece = breathing(40, 5);
const beatSet = new Set(piece.beats);
const evidence = evidenceOf(piece.onsets, (i) => (beatSet.has(piece.onsets[i]) ? 1 : 0.5));
const end = piece.beats[piece.beats.length - 1];

const anyTime = fc.double({ min: 0, max: end, noNaN: true });
const anyFix: fc.Arbitrary<Fix> = fc.oneof(
  { weight: 4, arbitrary: anyTime.map((beat): Fix => ({ beat })) },
  { weight: 3, arbitrary: anyTime.map((notBeat): Fix => ({ notBeat })) },
  { weight: 1, arbitrary: anyTime.map((one): Fix => ({ one })) },
);

describe('beats as heard', () => {
  test('a click of 120 a minute gives its own onsets', () => {
    const clicks = Array.from({ length: 60 }, (_, i) => 0.5 + i * 0.5);
    const beats = timesOf(inferBeats(evidenceOf(clicks), []));
    expect(beats).toHaveLength(60);
    beats.forEach((beat, i) => {
      expect(beat).toBeCloseTo(clicks[i], 6);
    });
  });

  test('follows a drum from 30 to 240 a minute', () => {
    const hits: Seconds[] = [0.3];
    while (hits[hits.length - 1] < 60) {
      const last = hits[hits.length - 1];
      hits.push(last + 60 / (30 * 8 ** (last / 60)));
    }
    const beats = timesOf(inferBeats(evidenceOf(hits), []));
    const found = hits.filter((hit) => beats.some((beat) => Math.abs(beat - hit) < 0.05)).length;
    expect(found / hits.length).toBeGreaterThan(0.9);
    const extra = beats.filter((beat) => !hits.some((hit) => Math.abs(beat - hit) < 0.05)).length;
    expect(extra / beats.length).toBeLessThan(0.1);
  });

  test('follows playing that breathes', () => {
    const beats = timesOf(inferBeats(evidence, []));
    const found = piece.beats.filter((one) => beats.some((beat) => Math.abs(beat - one) < 0.07));
    expect(found.length / piece.beats.length).toBeGreaterThan(0.85);
  });

  test('beats rise, counts start at 1, confidences are shares', () => {
    const beats = inferBeats(evidence, []);
    beats.forEach((beat, i) => {
      if (i > 0) expect(beat.time).toBeGreaterThan(beats[i - 1].time);
      expect(beat.count).toBeGreaterThanOrEqual(1);
      expect(beat.confidence).toBeGreaterThan(0);
      expect(beat.confidence).toBeLessThanOrEqual(1);
      expect(beat.by).toBe('heard');
    });
  });

  test('no beat is found in silence, a held tone, noise or too few attacks', () => {
    const random = makeRandom(4);
    const of = (sample: (i: number) => number): Audio => ({
      sampleRate: rate,
      channels: [Float32Array.from({ length: rate * 12 }, (_, i) => sample(i))],
    });
    const takes = [
      of(() => 0),
      of((i) => 0.4 * Math.sin(i * 0.08)),
      of(() => 0.3 * (random() * 2 - 1)),
      struck([0.5, 1.2, 1.9]),
    ];
    for (const take of takes)
      expect(inferBeats(gatherBeatEvidence(take, hearAttacks(take).possible), [])).toEqual([]);
  });

  test('the same at any gain, and later by as much as the take starts later', () => {
    const plain = timesOf(inferBeats(evidence, []));
    const audio = struck(piece.onsets, (i) => (beatSet.has(piece.onsets[i]) ? 1 : 0.5));
    const onsets = piece.onsets.map((time) => ({ time, strength: 0.5 }));
    const quiet = { ...audio, channels: audio.channels.map((c) => c.map((x) => x * 0.01)) };
    const soft = timesOf(inferBeats(gatherBeatEvidence(quiet, onsets), []));
    expect(soft).toEqual(plain);
    const delay = 3 * rate;
    const padded = new Float32Array(audio.channels[0].length + delay);
    padded.set(audio.channels[0], delay);
    const late = gatherBeatEvidence(
      { sampleRate: rate, channels: [padded] },
      onsets.map((onset) => ({ ...onset, time: onset.time + 3 })),
    );
    const later = timesOf(inferBeats(late, []));
    expect(later).toHaveLength(plain.length);
    later.forEach((time, i) => {
      expect(time - 3).toBeCloseTo(plain[i], 6);
    });
  });
});

describe('fixes', () => {
  test('every beat set is exactly there, every bar starts where it was said, beats rise', () => {
    fc.assert(
      fc.property(fc.array(anyFix, { minLength: 1, maxLength: 8 }), (fixes) => {
        let state = startBeats(evidence);
        let wanted: Seconds[] = [];
        let gone: Seconds[] = [];
        for (const fix of fixes) {
          const before = state.times;
          state = fixBeats(evidence, state, fix);
          if ('beat' in fix) {
            wanted = [...wanted.filter((time) => Math.abs(time - fix.beat) >= 0.02), fix.beat];
            gone = gone.filter((time) => Math.abs(time - fix.beat) >= 0.02);
          }
          if ('notBeat' in fix && state !== undefined && before !== state.times) {
            const near = before.reduce((a, b) =>
              Math.abs(b - fix.notBeat) < Math.abs(a - fix.notBeat) ? b : a,
            );
            wanted = wanted.filter((time) => time !== near);
            gone = [...gone, near];
          }
          for (const time of wanted) expect(state.times).toContain(time);
          for (const time of gone) expect(state.times).not.toContain(time);
          for (let i = 1; i < state.times.length; i++)
            expect(state.times[i]).toBeGreaterThan(state.times[i - 1]);
        }
        const shown = shownBeats(evidence, state);
        for (const one of state.ones) {
          const near = shown.reduce((a, b) =>
            Math.abs(b.time - one) < Math.abs(a.time - one) ? b : a,
          );
          expect(near.count).toBe(1);
        }
      }),
      { seed: 1, numRuns: 60 },
    );
  });

  test('are taken one after the other, and the same fixes give the same beats', () => {
    fc.assert(
      fc.property(fc.array(anyFix, { maxLength: 6 }), (fixes) => {
        let state = startBeats(evidence);
        for (const fix of fixes) state = fixBeats(evidence, state, fix);
        const whole = inferBeats(structuredClone(evidence), fixes);
        expect(whole).toEqual(shownBeats(evidence, state));
        // And again step by step, as a page asks.
        for (let i = 0; i < fixes.length; i++) inferBeats(evidence, fixes.slice(0, i));
        expect(inferBeats(evidence, fixes)).toEqual(whole);
      }),
      { seed: 2, numRuns: 15 },
    );
  });

  test('the beat shown nearest to a strike goes; far from any beat nothing does', () => {
    const shown = timesOf(inferBeats(evidence, []));
    const struckOut = shown[10];
    expect(timesOf(inferBeats(evidence, [{ notBeat: struckOut + 0.03 }]))).not.toContain(struckOut);
    expect(inferBeats(evidence, [{ notBeat: end + 60 }])).toEqual(inferBeats(evidence, []));
  });

  test('who strikes beats that lie a little wrong gets them back a little further on', () => {
    // No outside source: two such strikes are taken for the user's way, and then less is ruled out.
    let state = startBeats(evidence);
    const shares: number[] = [];
    for (const _ of [0, 1, 2]) {
      const i = state.times.findIndex((time) => time > state.confirmed + 2);
      const [at, next] = [state.times[i], state.times[i + 1]];
      state = fixBeats(evidence, state, { notBeat: at });
      const zone = state.struck.find((one) => one.at === at);
      shares.push(((zone?.until ?? 0) - at) / (next - at));
      state = fixBeats(evidence, state, { beat: at + 0.15 * (next - at) });
    }
    expect(shares[0]).toBeCloseTo(0.5, 6);
    expect(shares[1]).toBeCloseTo(0.5, 6);
    expect(shares[2]).toBeCloseTo(0.2, 6);
  });

  test('a beat that is set teaches how long beats are, unless one may be missing before it', () => {
    // No outside source: nobody who goes from left to right passes over a missing beat.
    const state = startBeats(evidence);
    const [last, next] = state.times.slice(20);
    const levelWith = (share: number) => {
      const beat = last + share * (next - last);
      const lastFix = { kind: 'far', at: beat, shown: state.times } as const;
      const confirmed = {
        ...state,
        confirmed: last,
        pinned: [{ time: beat, by: 'tapped' as const }],
      };
      return heardAfter(evidence, { ...confirmed, lastFix }).tempo.level;
    };
    expect(levelWith(1.4)).toBeGreaterThan(levelWith(0.7) + 0.01);
    expect(levelWith(3)).toBe(levelWith(4));
  });

  test('who strikes the second beat first counts in beats twice as long', () => {
    // No outside source: nothing else is known then, and every second beat is mostly right.
    const shown = startBeats(evidence);
    const levelAfter = (i: number) =>
      heardAfter(evidence, fixBeats(evidence, shown, { notBeat: shown.times[i] })).tempo.level;
    expect(levelAfter(1)).toBeCloseTo(Math.log(shown.times[2] - shown.times[0]), 9);
    expect(levelAfter(12)).toBeLessThan(levelAfter(1) - 0.3);
  });

  test('a beat set a good way behind a shown one moves it where nothing sounds there', () => {
    // No outside source.
    const beats = Array.from({ length: 12 }, (_, i) => 0.5 + i);
    const kept = [true, false].map((sounds) => {
      const take = evidenceOf(sounds ? beats : beats.filter((_, i) => i !== 6));
      const state = { ...startBeats(take), times: beats };
      return fixBeats(take, state, { beat: beats[6] + 0.6 }).confirmed;
    });
    expect(kept).toEqual([beats[6], beats[5]]);
  });

  test('leave what lies left of them as it was', () => {
    const shown = timesOf(inferBeats(evidence, []));
    const time = shown[20] + 0.11;
    const after = timesOf(inferBeats(evidence, [{ beat: time }]));
    expect(after.slice(0, 20)).toEqual(shown.slice(0, 20));
  });

  test('a fix further left later leaves the beats set further right', () => {
    const fixes: Fix[] = [{ beat: piece.beats[25] }, { beat: piece.beats[5] + 0.01 }];
    const beats = timesOf(inferBeats(evidence, fixes));
    expect(beats).toContain(piece.beats[25]);
    expect(beats).toContain(piece.beats[5] + 0.01);
  });

  test('say who set a beat', () => {
    const beats = inferBeats(evidence, [{ beat: 5.05 }, { beat: 9.31, by: 'moved' }]);
    expect(beats.find((beat) => beat.time === 5.05)).toMatchObject({ by: 'tapped', confidence: 1 });
    expect(beats.find((beat) => beat.time === 9.31)).toMatchObject({ by: 'moved', confidence: 1 });
  });

  test('twice as many, half as many, half a beat later', () => {
    const shown = timesOf(inferBeats(evidence, []));
    const double = timesOf(inferBeats(evidence, [{ level: 'double' }]));
    expect(double).toHaveLength(2 * shown.length - 1);
    for (const time of shown) expect(double).toContain(time);
    const half = timesOf(inferBeats(evidence, [{ level: 'half' }]));
    expect(Math.abs(half.length - shown.length / 2)).toBeLessThan(1);
    const from = timesOf(inferBeats(evidence, [{ level: 'double', from: shown[20] }]));
    expect(from.slice(0, 21)).toEqual(shown.slice(0, 21));
    expect(from).toHaveLength(20 + 2 * (shown.length - 20) - 1);
    const shifted = timesOf(inferBeats(evidence, [{ shift: 'half' }]));
    shifted.forEach((time, i) => {
      const share = (time - shown[i]) / (shown[i + 1] - shown[i]);
      expect(share).toBeGreaterThan(0.35);
      expect(share).toBeLessThan(0.65);
    });
  });

  test('of half as many the phase that was pointed at stays, from a place on or all through', () => {
    const shown = timesOf(inferBeats(evidence, []));
    fc.assert(
      fc.property(fc.nat({ max: shown.length - 4 }), fc.boolean(), (at, whole) => {
        const place = shown[at] + 0.02;
        const fix: Fix = whole ? { level: 'half', keep: place } : { level: 'half', from: place };
        const half = timesOf(inferBeats(evidence, [fix]));
        const stays = (i: number) => (i - at) % 2 === 0 || (!whole && i < at);
        expect(half).toEqual(shown.filter((_, i) => stays(i)));
      }),
      { seed: 3, numRuns: 12 },
    );
  });

  test('half a beat later from a place on leaves what lies before', () => {
    const shown = timesOf(inferBeats(evidence, []));
    const shifted = timesOf(inferBeats(evidence, [{ shift: 'half', from: shown[12] }]));
    expect(shifted.slice(0, 12)).toEqual(shown.slice(0, 12));
    shifted.slice(12).forEach((time, i) => {
      expect(time).toBeGreaterThan(shown[12 + i]);
      expect(time).toBeLessThan(shown[13 + i]);
    });
  });

  test('bars a beat later: the beats stay, their counts move on by one, and what is named later holds', () => {
    const shown = inferBeats(evidence, []);
    const later = inferBeats(evidence, [{ shift: 'bar' }]);
    expect(timesOf(later)).toEqual(timesOf(shown));
    const counts = (beats: readonly Beat[], from: number, until: number) =>
      beats.slice(from, until).map((beat) => beat.count);
    const end = shown.length - 4;
    expect(counts(later, 5, end)).toEqual(counts(shown, 4, end - 1));
    const four = Array.from({ length: 4 }, (): Fix => ({ shift: 'bar' }));
    const metre = Math.max(...counts(shown, 4, end));
    expect(counts(inferBeats(evidence, four.slice(0, metre)), 8, end)).toEqual(
      counts(shown, 8 - metre, end - metre),
    );
    const named = inferBeats(evidence, [{ shift: 'bar' }, { one: shown[9].time }]);
    expect(named[9].count).toBe(1);
    const both = inferBeats(evidence, [{ one: shown[9].time }, { shift: 'bar' }]);
    expect(both[10].count).toBe(1);
    const from = inferBeats(evidence, [{ shift: 'bar', from: shown[20].time }]);
    expect(counts(from, 24, end)).toEqual(counts(later, 24, end));
  });

  test('a level chosen holds when something else is fixed later', () => {
    const shown = timesOf(inferBeats(evidence, [{ level: 'half' }]));
    const after = timesOf(inferBeats(evidence, [{ level: 'half' }, { beat: shown[8] + 0.02 }]));
    expect(Math.abs(after.length - shown.length)).toBeLessThan(0.2 * shown.length);
  });

  test('from a free place on what came before teaches nothing', () => {
    const slow = Array.from({ length: 16 }, (_, i) => 0.5 + i);
    const fast = Array.from({ length: 60 }, (_, i) => 16.2 + i * 0.31);
    const both = evidenceOf([...slow, ...fast]);
    const fixes: Fix[] = [{ beat: slow[3] }, { beat: slow[15] }, { free: 16 }];
    const beats = timesOf(inferBeats(both, fixes)).filter((time) => time > 17);
    const median = beats
      .slice(1)
      .map((time, i) => time - beats[i])
      .sort((a, b) => a - b)[beats.length >> 1];
    expect(median).toBeLessThan(0.7);
  });

  test('somebody who corrects from left to right is done soon', () => {
    let state = startBeats(evidence);
    const { fixes, done } = correctBeats(piece.beats, state.times, (fix) => {
      state = fixBeats(evidence, state, fix);
      return state.times;
    });
    expect(done).toBe(true);
    expect(fixes.length).toBeLessThan(piece.beats.length / 3);
  });

  test('beats can be set by hand where none was found', () => {
    const nothing = evidenceOf([0.5]);
    const beats = timesOf(inferBeats(nothing, [{ beat: 1 }, { beat: 2 }]));
    expect(beats).toContain(1);
    expect(beats).toContain(2);
  });
});
