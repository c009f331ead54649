import { readFileSync } from 'node:fs';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { beatF, cemgil, pScore, trimBeats } from '../metrics/beat-score.ts';
import { boundaryScore } from '../metrics/boundary-score.ts';
import { keyScore } from '../metrics/key-score.ts';
import { matchWithin } from '../metrics/matching.ts';
import { keyPairs, madePairs } from '../metrics/mir-eval-pairs.ts';
import { askMirEval, type MirEvalAnswer } from '../metrics/mir-eval-write.ts';
import { onsetErrors, onsetScore, recallOf } from '../metrics/onset-score.ts';

const stored = JSON.parse(
  readFileSync(new URL('../data/mir-eval/pairs.json', import.meta.url), 'utf8'),
) as MirEvalAnswer;

function named(text: string): { tonic: string; mode: 'major' | 'minor' } {
  const [tonic, mode] = text.split(' ');
  return { tonic, mode: mode as 'major' | 'minor' };
}

function ours(): Omit<MirEvalAnswer, 'version'> {
  const pairs = madePairs().map(({ truth, heard }) => ({
    onset50: onsetScore(truth, heard, 0.05).f,
    onset10: onsetScore(truth, heard, 0.01).f,
    beat: beatF(truth, heard),
    beatTrimmed: beatF(trimBeats(truth), trimBeats(heard)),
    cemgil: cemgil(truth, heard).score,
    cemgilBest: cemgil(truth, heard).best,
    pScore: pScore(truth, heard),
    boundary05: boundaryScore(truth, heard, 0.5).f,
    boundary3: boundaryScore(truth, heard, 3).f,
  }));
  return { pairs, keys: keyPairs().map(([a, b]) => keyScore(named(a), named(b))) };
}

function expectSame(answer: MirEvalAnswer): void {
  const mine = ours();
  answer.pairs.forEach((pair, i) => {
    for (const [name, value] of Object.entries(pair)) {
      // 1e-9: the same sums in another order.
      expect(mine.pairs[i][name], `pair ${i}, ${name}`).toBeCloseTo(value, 9);
    }
  });
  expect(mine.keys).toEqual(answer.keys);
}

describe('measures against mir_eval', () => {
  test(`as mir_eval ${stored.version} scored them`, () => {
    expect(stored.pairs.length).toBe(madePairs().length);
    expectSame(stored);
  });

  const live = askMirEval();
  test.runIf(live)('as the installed mir_eval scores them now', () => {
    if (live) expectSame(live);
  });
});

describe('matching', () => {
  const moments = fc
    .array(fc.integer({ min: 0, max: 400 }), { maxLength: 7 })
    .map((list) => [...new Set(list)].sort((a, b) => a - b).map((x) => x / 100));

  test('finds as many pairs, as near, as trying everything', () => {
    const best = (a: readonly number[], b: readonly number[], w: number): [number, number] => {
      if (a.length === 0) return [0, 0];
      let top = best(a.slice(1), b, w);
      b.forEach((time, j) => {
        if (Math.abs(time - a[0]) > w) return;
        const [count, sum] = best(a.slice(1), [...b.slice(0, j), ...b.slice(j + 1)], w);
        const here: [number, number] = [count + 1, sum + Math.abs(time - a[0])];
        if (here[0] > top[0] || (here[0] === top[0] && here[1] < top[1])) top = here;
      });
      return top;
    };
    fc.assert(
      fc.property(moments, moments, fc.constantFrom(0.055, 0.305, 1.005), (a, b, w) => {
        const pairs = matchWithin(a, b, w);
        const sum = pairs.reduce((s, [i, j]) => s + Math.abs(a[i] - b[j]), 0);
        const [count, least] = best(a, b, w);
        expect(pairs.length).toBe(count);
        expect(sum).toBeCloseTo(least, 9);
      }),
      { seed: 41, numRuns: 150 },
    );
  });

  test('a late detector is late by what it is late', () => {
    const truth = [0.5, 1, 1.4, 2];
    const errors = onsetErrors(
      truth,
      truth.map((time) => time + 0.007),
    );
    for (const error of errors) expect(error).toBeCloseTo(0.007, 12);
    expect(recallOf([1, 2], truth, [0.5, 1.01])).toEqual({ found: 1, of: 2 });
  });
});
