import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { makeTimeMap, mapTime } from '../../shared/time/time-map.ts';
import type { Decay } from '../../shared/warp/plan/decay.ts';
import { planTime, sourceAt } from '../../shared/warp/plan/time-plan.ts';

const rate = 44100;

/** A piece between two attacks under a map of two segments that bends inside it. */
const pieces = fc.record({
  first: fc.double({ min: 0.25, max: 4, noNaN: true }),
  second: fc.double({ min: 0.25, max: 4, noNaN: true }),
  bend: fc.double({ min: 0.1, max: 1.5, noNaN: true }),
  length: fc.double({ min: 0.05, max: 3, noNaN: true }),
  share: fc.double({ min: 0, max: 1, noNaN: true }),
  risen: fc.double({ min: 0, max: 6, noNaN: true }),
  end: fc.double({ min: 0.3, max: 1, noNaN: true }),
});

const decaying = (share: number, risen = 0): Decay => ({ share, rate: 10 * share, risen });

describe('planTime', () => {
  it('starts at its attack at slope 1, never runs back and stays near the map', () => {
    fc.assert(
      fc.property(pieces, ({ first, second, bend, length, share, risen, end }) => {
        const map = makeTimeMap([
          { from: 0, to: 0 },
          { from: bend, to: bend * first },
          { from: bend + 3, to: bend * first + 3 * second },
        ]);
        const a = { out: 0, source: 0 };
        const z = { out: mapTime(map, length) * rate, source: length * rate };
        const decay = { share, risen, rate: 10 };
        const knots = planTime(a, z, map, rate, 0.0464 * rate, decay, end);
        const room = Math.min(z.out, z.source);
        const copy = Math.min(0.0464 * rate, room * 0.4);
        expect(sourceAt(knots, copy * 0.9)).toBeCloseTo(copy * 0.9, 3);
        let before = 0;
        let back = 0;
        for (let i = 0; i <= 400; i++) {
          const source = sourceAt(knots, (z.out * i) / 400);
          back = Math.max(back, before - source);
          before = source;
        }
        expect(back).toBeLessThan(1e-3);
        // It ends at the next attack, or has left out no more than local time may be off the map.
        expect(before).toBeLessThanOrEqual(z.source + 1e-3);
        expect(z.source - before).toBeLessThanOrEqual((risen < 3 ? 1 : 0.3) * rate + 1);
      }),
      { numRuns: 300, seed: 42 },
    );
  });

  it('follows the map evenly where sound is sustained', () => {
    const map = makeTimeMap([
      { from: 0, to: 0 },
      { from: 2, to: 3 },
    ]);
    const z = { out: 3 * rate, source: 2 * rate };
    const knots = planTime({ out: 0, source: 0 }, z, map, rate, 0.05 * rate, decaying(0), 1);
    // Slope 1 next to both attacks moves time by a third of how long it lasts; soon it is back on the map.
    for (let t = 0; t <= 3; t += 0.05)
      expect(Math.abs(sourceAt(knots, t * rate) / rate - (t * 2) / 3)).toBeLessThan(0.018);
    for (let t = 0.25; t < 2.75; t += 0.05)
      expect(sourceAt(knots, t * rate) / rate).toBeCloseTo((t * 2) / 3, 9);
  });

  it('plays on and cuts, or draws out late, where sound dies away', () => {
    const shorter = makeTimeMap([
      { from: 0, to: 0 },
      { from: 0.5, to: 0.3 },
    ]);
    const cut = planTime(
      { out: 0, source: 0 },
      { out: 0.3 * rate, source: 0.5 * rate },
      shorter,
      rate,
      0.05 * rate,
      decaying(1),
      1,
    );
    expect(sourceAt(cut, 0.29 * rate) / rate).toBeCloseTo(0.29, 6);
    const longer = makeTimeMap([
      { from: 0, to: 0 },
      { from: 0.5, to: 0.7 },
    ]);
    const z = { out: 0.7 * rate, source: 0.5 * rate };
    const drawn = (out: number, end: number) =>
      sourceAt(
        planTime({ out: 0, source: 0 }, z, longer, rate, 0.05 * rate, decaying(1), end),
        out * rate,
      ) / rate;
    for (const end of [1, 0.5]) {
      expect(drawn(0.35, end)).toBeCloseTo(0.35, 2);
      expect(drawn(0.7, end)).toBeCloseTo(0.5, 6);
      // Slope 1 for so long before the next attack, and not for longer.
      expect(drawn(0.7 - 0.05 * end, end)).toBeCloseTo(0.5 - 0.05 * end, 6);
      expect(drawn(0.69 - 0.05 * end, end)).toBeCloseTo(0.4985 - 0.05 * end, 6);
    }
    // The shorter that is, the longer time runs at slope 1 before.
    expect(drawn(0.44, 0.5)).toBeGreaterThan(drawn(0.44, 1) + 0.01);
  });

  it('leaves the map by a second where a shortened piece only dies away, not where something rises', () => {
    const map = makeTimeMap([
      { from: 0, to: 0 },
      { from: 2, to: 1 },
    ]);
    const a = { out: 0, source: 0 };
    const z = { out: rate, source: 2 * rate };
    const at = (risen: number): number => {
      const knots = planTime(a, z, map, rate, 0.05 * rate, decaying(1, risen), 1);
      return sourceAt(knots, 0.9 * rate) / rate;
    };
    expect(at(0)).toBeCloseTo(0.9, 6);
    expect(at(1)).toBeCloseTo(0.9, 6);
    expect(at(3)).toBeCloseTo(1.5, 6);
  });
});
