import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { barsOf, fill, vocabulary } from '../perform/cells.ts';
import { Chance } from '../perform/chance.ts';
import { writeParts } from '../perform/part-writing.ts';

const seeds = fc.integer({ min: 1, max: 100_000 });
const styles = fc.record({
  beatsPerBar: fc.constantFrom(1, 2, 3, 4),
  compound: fc.boolean(),
  drums: fc.boolean(),
  beats: fc.constantFrom(16, 60),
});

describe('rhythms of cells', () => {
  test('fill what they are asked to, in order, without overlap', () => {
    fc.assert(
      fc.property(seeds, fc.boolean(), fc.constantFrom(1, 2, 3, 4), (seed, triple, beats) => {
        const chance = new Chance(seed);
        const cells = vocabulary(chance, triple);
        for (const [notes, end] of [
          [fill(chance, cells, beats), beats],
          [barsOf(chance, cells, beats, 4), 4 * beats],
        ] as const)
          notes.forEach(([at, length], i) => {
            expect(length).toBeGreaterThan(0);
            expect(at + length).toBeLessThanOrEqual((notes[i + 1]?.[0] ?? end) + 1e-9);
          });
      }),
    );
  });
});

describe('music in parts', () => {
  test('is as long as asked for, in the range of a piano, no key struck twice at once', () => {
    fc.assert(
      fc.property(seeds, styles, (seed, style) => {
        const { beats, notes, phrases, beatsPerBar } = writeParts(new Chance(seed), style);
        expect(beats).toBeGreaterThanOrEqual(style.beats);
        const keys = new Set<string>();
        for (const { at, length, pitch, part } of notes) {
          expect(at).toBeGreaterThanOrEqual(beatsPerBar - 2 - 1e-9);
          expect(at).toBeLessThan(beats);
          expect(length).toBeGreaterThan(0);
          expect(pitch).toBeGreaterThanOrEqual(21);
          expect(pitch).toBeLessThanOrEqual(108);
          const key = `${part === 'drums'} ${at.toFixed(4)} ${pitch}`;
          expect(keys.has(key)).toBe(false);
          keys.add(key);
        }
        phrases.forEach((phrase, i) => {
          expect(phrase.end).toBeGreaterThan(phrase.start);
          if (i > 0) expect(phrase.start).toBe(phrases[i - 1].end);
        });
      }),
      {
        numRuns: 15,
        // Here an upbeat of two bars once took up all of the passage before it.
        examples: [[99990, { beatsPerBar: 1, compound: false, drums: true, beats: 16 }]],
      },
    );
  });

  test('is the same for the same seed', () => {
    const style = { beatsPerBar: 2, compound: true, drums: true, beats: 40 };
    expect(writeParts(new Chance(7), style)).toEqual(writeParts(new Chance(7), style));
  });
});
