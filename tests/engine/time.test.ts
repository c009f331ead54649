import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Onset } from '../../shared/hear/heard.ts';
import { beatAt, makeBeatClock, timeOfBeat } from '../../shared/time/beat-clock.ts';
import { gridDivisions, nearestGridPoint, pointsPerBeat, swung } from '../../shared/time/grid.ts';
import { steadyMap } from '../../shared/time/steady.ts';
import {
  composeMaps,
  invertMap,
  makeTimeMap,
  mapTime,
  onSamples,
  type TimeMap,
  unmapTime,
} from '../../shared/time/time-map.ts';

const steps = fc.array(
  fc.record({
    run: fc.double({ min: 0.01, max: 3, noNaN: true }),
    ratio: fc.double({ min: 0.25, max: 4, noNaN: true }),
  }),
  { minLength: 1, maxLength: 20 },
);

/** Any valid map: pieces of 10 ms to 3 s with ratios from a quarter to four. */
const maps = fc
  .tuple(
    fc.double({ min: 0, max: 5, noNaN: true }),
    fc.double({ min: 0, max: 5, noNaN: true }),
    steps,
  )
  .map(([from, to, pieces]) => {
    const anchors = [{ from, to }];
    for (const { run, ratio } of pieces) {
      const last = anchors[anchors.length - 1];
      anchors.push({ from: last.from + run, to: last.to + run * ratio });
    }
    return makeTimeMap(anchors);
  });
const times = fc.double({ min: -2, max: 60, noNaN: true });

describe('TimeMap', () => {
  it('rises everywhere', () => {
    fc.assert(
      fc.property(maps, times, fc.double({ min: 1e-6, max: 5, noNaN: true }), (map, t, dt) => {
        expect(mapTime(map, t + dt)).toBeGreaterThan(mapTime(map, t));
      }),
    );
  });

  it('inverts: there and back is where it was, both ways and through invertMap', () => {
    fc.assert(
      fc.property(maps, times, (map, t) => {
        expect(unmapTime(map, mapTime(map, t))).toBeCloseTo(t, 9);
        expect(mapTime(invertMap(map), mapTime(map, t))).toBeCloseTo(t, 9);
      }),
    );
  });

  it('composes: the composed map is one map after the other', () => {
    fc.assert(
      fc.property(maps, maps, times, (outer, inner, t) => {
        expect(mapTime(composeMaps(outer, inner), t)).toBeCloseTo(
          mapTime(outer, mapTime(inner, t)),
          7,
        );
      }),
    );
  });

  it('goes through its anchors exactly and has slope 1 outside', () => {
    fc.assert(
      fc.property(maps, fc.double({ min: 0, max: 10, noNaN: true }), (map, d) => {
        for (const { from, to } of map.anchors) expect(mapTime(map, from)).toBe(to);
        const first = map.anchors[0];
        const last = map.anchors[map.anchors.length - 1];
        expect(mapTime(map, first.from - d)).toBeCloseTo(first.to - d, 12);
        expect(mapTime(map, last.from + d)).toBeCloseTo(last.to + d, 12);
      }),
    );
  });

  it('is the identity without anchors', () => {
    expect(mapTime({ anchors: [] }, 3.25)).toBe(3.25);
  });

  it('refuses what goes backwards, stands still or is no number, and says where', () => {
    expect(() =>
      makeTimeMap([
        { from: 1, to: 1 },
        { from: 0.5, to: 2 },
      ]),
    ).toThrow(/anchor 1/);
    expect(() =>
      makeTimeMap([
        { from: 1, to: 1 },
        { from: 2, to: 1 },
      ]),
    ).toThrow(/anchor 1/);
    expect(() => makeTimeMap([{ from: Number.NaN, to: 1 }])).toThrow(/Anchor 0/);
  });

  it('stays strictly rising on whole samples', () => {
    fc.assert(
      fc.property(maps, (map) => {
        const { anchors } = onSamples(map, 44100);
        makeTimeMap(anchors);
        for (const { to } of anchors)
          expect(Math.abs(to * 44100 - Math.round(to * 44100))).toBeLessThan(1e-6);
      }),
    );
  });
});

const clocks = fc
  .array(fc.double({ min: 0.2, max: 2, noNaN: true }), { minLength: 1, maxLength: 30 })
  .map((intervals) => {
    const beats = [0.5];
    for (const interval of intervals) beats.push(beats[beats.length - 1] + interval);
    return makeBeatClock(beats);
  });

describe('beat clock', () => {
  it('counts beats at the beats and inverts everywhere', () => {
    fc.assert(
      fc.property(clocks, times, (clock, t) => {
        clock.times.forEach((time, i) => {
          expect(beatAt(clock, time)).toBeCloseTo(i, 12);
        });
        expect(timeOfBeat(clock, beatAt(clock, t))).toBeCloseTo(t, 9);
      }),
    );
  });

  it('refuses beats that do not rise', () => {
    expect(() => makeBeatClock([1, 1])).toThrow(RangeError);
    expect(() => makeBeatClock([1])).toThrow(RangeError);
  });
});

describe('grid', () => {
  it('divides the beat: quarters 1, eighths 2, triplets 3 and 6, sixteenths 4, thirty-seconds 8', () => {
    expect(gridDivisions.map(pointsPerBeat)).toEqual([1, 2, 3, 4, 6, 8]);
  });

  it('puts the off-beat eighth where swing says: 50 even, 66.67 at two thirds (2:1), 75 at three quarters (3:1)', () => {
    // Ratios of long to short as in Friberg and Sundstroem 2002: 1:1, 2:1, 3:1.
    expect(swung(0.5, 50, '8')).toBe(0.5);
    expect(swung(0.5, 200 / 3, '8')).toBeCloseTo(2 / 3, 12);
    expect(swung(4.5, 75, '8')).toBeCloseTo(4.75, 12);
  });

  it('finds the nearest point: no other point of the grid is nearer', () => {
    const divisions = fc.constantFrom(...gridDivisions);
    const swings = fc.double({ min: 50, max: 80, noNaN: true });
    fc.assert(
      fc.property(
        fc.double({ min: -3, max: 30, noNaN: true }),
        divisions,
        swings,
        (p, division, swing) => {
          const found = nearestGridPoint(p, division, swing);
          const n = pointsPerBeat(division);
          for (let k = Math.floor(p - 2) * n; k <= (p + 2) * n; k++)
            expect(Math.abs(found - p)).toBeLessThanOrEqual(
              Math.abs(swung(k / n, swing, division) - p) + 1e-12,
            );
        },
      ),
    );
  });
});

describe('steady and tighten', () => {
  const onsetsIn = (clockTimes: readonly number[]): Onset[] =>
    clockTimes.flatMap((time, i) =>
      i + 1 < clockTimes.length
        ? [time, time + 0.62 * (clockTimes[i + 1] - time)].map((t) => ({ time: t, strength: 0.5 }))
        : [{ time, strength: 0.5 }],
    );
  const straight = { bpm: 100, steady: 100, tighten: 0, grid: '16', swing: 50 } as const;
  const stretchOf = (clock: ReturnType<typeof makeBeatClock>) => ({
    clock,
    fromBeat: 0,
    untilBeat: clock.times.length - 1,
    lead: 0.25,
  });

  it('steady 100: every beat stands on the tempo', () => {
    fc.assert(
      fc.property(clocks, (clock) => {
        const { map } = steadyMap(stretchOf(clock), onsetsIn(clock.times), straight);
        clock.times.forEach((time, i) => {
          expect(mapTime(map, time)).toBeCloseTo(0.25 + i * 0.6, 9);
        });
      }),
    );
  });

  it("steady 100, tighten 0: the players' place inside the beat survives", () => {
    fc.assert(
      fc.property(clocks, (clock) => {
        const { map } = steadyMap(stretchOf(clock), onsetsIn(clock.times), straight);
        for (const { time } of onsetsIn(clock.times))
          expect((mapTime(map, time) - 0.25) / 0.6).toBeCloseTo(beatAt(clock, time), 8);
      }),
    );
  });

  it('tighten 100: every attack stands on the grid, as long as no piece is squeezed beyond four times', () => {
    const moderate = clocks.filter(
      (c) => Math.max(...c.times.slice(1).map((t, i) => t - c.times[i])) < 1.2,
    );
    fc.assert(
      fc.property(moderate, (clock) => {
        const { map, landings } = steadyMap(stretchOf(clock), onsetsIn(clock.times), {
          ...straight,
          tighten: 100,
        });
        for (const landing of landings) {
          expect(landing.to).toBeCloseTo(landing.grid, 9);
          expect(mapTime(map, landing.from)).toBe(landing.to);
        }
      }),
    );
  });

  it('any steady: the whole stretch has the length of its beats at the tempo', () => {
    fc.assert(
      fc.property(clocks, fc.double({ min: 0, max: 100, noNaN: true }), (clock, steady) => {
        const { map } = steadyMap(stretchOf(clock), [], { ...straight, steady });
        const last = clock.times.length - 1;
        expect(mapTime(map, clock.times[last]) - mapTime(map, clock.times[0])).toBeCloseTo(
          last * 0.6,
          8,
        );
      }),
    );
  });

  it('rises strictly whatever is asked', () => {
    const attacks = fc.array(
      fc.record({
        time: fc.double({ min: 0, max: 20, noNaN: true }),
        strength: fc.double({ min: 0, max: 1, noNaN: true }),
      }),
      { maxLength: 60 },
    );
    fc.assert(
      fc.property(
        clocks,
        attacks,
        fc.double({ min: 0, max: 100, noNaN: true }),
        fc.double({ min: 0, max: 100, noNaN: true }),
        fc.constantFrom(...gridDivisions),
        (clock, onsets, steady, tighten, grid) => {
          const sorted = [...onsets].sort((a, b) => a.time - b.time);
          const map: TimeMap = steadyMap(stretchOf(clock), sorted, {
            ...straight,
            steady,
            tighten,
            grid,
          }).map;
          expect(() => makeTimeMap(map.anchors)).not.toThrow();
        },
      ),
    );
  });
});
