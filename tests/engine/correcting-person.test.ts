import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { gatherBeatEvidence, inferBeats } from '../../shared/hear/beats/beats.ts';
import { fixBeats, startBeats } from '../../shared/hear/beats/fixes.ts';
import type { Fix } from '../../shared/hear/heard.ts';
import { hearOnsets } from '../../shared/hear/onsets/onsets.ts';
import { byHand } from '../bench/hear/listeners.ts';
import { correctBeats, near } from '../metrics/correcting-person.ts';
import { matchWithin } from '../metrics/matching.ts';
import { record } from '../perform/record.ts';
import { smallSession } from '../perform/sets.ts';

const rising = fc
  .array(fc.integer({ min: 20, max: 120 }), { minLength: 2, maxLength: 25 })
  .map((gaps) => {
    let at = 0;
    return gaps.map((gap) => {
      at += gap / 100;
      return at;
    });
  });

describe('the scripted person', () => {
  test('has nothing to do where all is right', () => {
    const truth = [1, 1.5, 2.1];
    expect(correctBeats(truth, [1.02, 1.48, 2.13], byHand([]))).toEqual({ fixes: [], done: true });
  });

  test('sets each missing beat and strikes each extra one, from left to right', () => {
    const shown = [1, 1.25, 2, 3.06];
    const { fixes } = correctBeats([1, 2, 3, 4], shown, byHand(shown));
    expect(fixes).toEqual([{ notBeat: 1.25 }, { beat: 3 }, { beat: 4 }]);
  });

  test('ends with every beat right, by hand, in no more fixes than beats on both sides', () => {
    fc.assert(
      fc.property(rising, rising, (truth, shown) => {
        const edit = byHand(shown);
        let last: readonly number[] = shown;
        const { fixes, done } = correctBeats(truth, shown, (fix) => {
          last = edit(fix);
          return last;
        });
        expect(done).toBe(true);
        expect(matchWithin(truth, last, near).length).toBe(truth.length);
        expect(last.length).toBe(truth.length);
        expect(fixes.length).toBeLessThanOrEqual(truth.length + shown.length);
      }),
      { seed: 7, numRuns: 100 },
    );
  });

  test('gets to the end with the engine, and the file of its fixes gives the same beats', () => {
    const { audio, truth } = record(smallSession('piano', 5));
    const evidence = gatherBeatEvidence(audio, hearOnsets(audio));
    let state = startBeats(evidence);
    const times = truth.beats.map((beat) => beat.time);
    const { fixes, done } = correctBeats(times, state.times, (fix: Fix) => {
      state = fixBeats(evidence, state, fix);
      return state.times;
    });
    expect(done).toBe(true);
    expect(matchWithin(times, state.times, near).length).toBe(times.length);
    const fromFile = inferBeats(evidence, fixes).map((beat) => beat.time);
    expect(fromFile).toEqual([...state.times]);
  });
});
