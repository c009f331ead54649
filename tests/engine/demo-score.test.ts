import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { levelAt, midiOf, readBars } from '../../demo/notation.ts';
import { perform } from '../../demo/performance.ts';
import { score } from '../../demo/score.ts';
import { planTime } from '../../demo/timing.ts';

describe('the shorthand of the demo score', () => {
  it('names notes as the trade does: middle C is C4 and 60 (MIDI 1.0 Detailed Specification 4.2)', () => {
    expect(['C4', 'A4', 'Bb2', 'F#3', 'Cb4'].map(midiOf)).toEqual([60, 69, 46, 54, 59]);
    for (const wrong of ['H4', 'C', 'c4', 'C##4']) expect(() => midiOf(wrong)).toThrow(/no note/);
  });

  it('reads a bar: chords, slurs, weights, silences, and what goes on', () => {
    const tokens = readBars(['D2+F4! . ~E4, -', 'A3 .'], -4, 4);
    expect(tokens.map(({ at, length }) => [at, length])).toEqual([
      [-4, 2],
      [-2, 1],
      [-1, 1],
      [0, 4],
    ]);
    expect(tokens.map((token) => token.names)).toEqual([['D2', 'F4'], ['E4'], [], ['A3']]);
    expect(tokens.map((token) => token.weight)).toEqual([1, -1, 0, 0]);
    expect(tokens.map((token) => token.slurred)).toEqual([false, true, false, false]);
  });

  it('draws levels straight between bar lines and holds the ends', () => {
    expect([-1, 0, 0.5, 1.25, 9].map((bar) => levelAt([0.2, 0.4, 0.8], bar))).toEqual([
      0.2,
      0.2,
      expect.closeTo(0.3, 12),
      expect.closeTo(0.5, 12),
      expect.closeTo(0.8, 12),
    ]);
  });

  it('fills every bar of every part evenly', () => {
    for (const phrase of score)
      for (const part of Object.values(phrase.parts)) {
        expect(part.bars.length).toBe(phrase.bars);
        expect(part.levels.length).toBeGreaterThan(phrase.bars - 1);
        for (const bar of part.bars) expect([8, 16]).toContain(bar.trim().split(/\s+/).length);
      }
  });
});

describe('free time', () => {
  it('never stands still or runs back, for any seed', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 2 ** 31 }), (seed) => {
        const { timeOf, total } = planTime(score, seed);
        let before = timeOf(3);
        for (let place = 3 + 1 / 8; place <= total; place += 1 / 8) {
          const now = timeOf(place);
          if (now <= before) return false;
          before = now;
        }
        return true;
      }),
      { numRuns: 25 },
    );
  });

  it('breathes before a phrase, and lets what ends there end before the breath', () => {
    const { timeOf, phraseAt } = planTime(score, 41);
    score.forEach((phrase, index) => {
      if (phrase.breath === 0) return;
      const place = phraseAt[index] - phrase.pickup;
      const gap = timeOf(place) - timeOf(place - 1e-6);
      expect(gap).toBeGreaterThan(0.95 * phrase.breath);
      expect(gap).toBeLessThan(phrase.breath + 0.01);
    });
  });

  it('is played by hands: no two chords are spread alike', () => {
    const { notes } = perform();
    const guitar = notes.filter((note) => note.player === 'guitar');
    const gaps = guitar.slice(1).flatMap((note, index) => {
      const gap = note.time - guitar[index].time;
      return gap < 0.045 ? [gap.toFixed(5)] : [];
    });
    expect(gaps.length).toBeGreaterThan(20);
    expect(new Set(gaps).size).toBeGreaterThan(0.9 * gaps.length);
  });
});
