import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  findPath,
  LONGEST,
  MOST,
  MOST_HELD,
  type Places,
  SHORTEST,
  type SpanScore,
  type TempoModel,
} from '../../shared/hear/beats/path.ts';
import { bestPath } from '../../shared/hear/beats/path-kernel.ts';
import { spanScore } from '../../shared/hear/beats/span.ts';
import { makeRandom } from '../../shared/math/random.ts';

/**
 * The path of beats against dynamic programming written down as its definition has it, with nothing
 * passed over: every state, every move of tempo, every interval.
 */
function plainPath(places: Places, model: TempoModel, span: SpanScore): number[] {
  const { times, scores } = places;
  const step = 0.01;
  const bins = Math.ceil(Math.log(LONGEST / SHORTEST) / step) + 1;
  const binOf = (interval: number) => Math.round(Math.log(interval / SHORTEST) / step);
  const level = (bin: number) => {
    const z = (Math.log(SHORTEST) + bin * step - model.level) / model.spread;
    return model.levelWeight * z * z * 0.5;
  };
  const band = Math.ceil((3 * model.jitter) / step);
  interface Way {
    readonly worth: number;
    readonly beats: readonly number[];
  }
  const none: Way = { worth: Number.NEGATIVE_INFINITY, beats: [] };
  const moved: Way[][] = [];
  let best = none;
  times.forEach((time, j) => {
    const here = Array.from({ length: bins }, (_, bin) =>
      j < places.starts ? { worth: scores[j] - level(bin), beats: [time] } : none,
    );
    for (let i = j - 1; i >= 0; i--) {
      const gap = time - times[i];
      if (gap > 4.8 && i < j - 1) break;
      for (let parts = 1; parts <= places.held; parts++) {
        const interval = gap / parts;
        if (interval < SHORTEST || interval > LONGEST) continue;
        // More than four only where nothing sounds after the first of them.
        if (parts > 4 && gap - interval > time - times[j - 1] + 1e-6) continue;
        const bin = binOf(interval);
        const worth = scores[j] + span(i, j, parts, Number.NEGATIVE_INFINITY);
        for (let b = Math.max(0, bin - band); b <= Math.min(bins - 1, bin + band); b++) {
          const from = moved[i][b];
          const value =
            from.worth + worth - (Math.abs(b - bin) * step) / model.jitter - level(b) * parts;
          if (value <= here[b].worth) continue;
          const inner = Array.from({ length: parts }, (_, m) => times[i] + (gap * (m + 1)) / parts);
          here[b] = { worth: value, beats: [...from.beats, ...inner] };
        }
      }
    }
    const rest = Math.max(0, places.end - time) * model.tail;
    for (const way of here)
      if (way.worth - rest > best.worth) best = { ...way, worth: way.worth - rest };
    moved.push(
      here.map((_, b) =>
        here.reduce((most, way, a) => {
          const cost = Math.min(model.leap, (Math.abs(a - b) * step) / model.freedom);
          return way.worth - cost > most.worth ? { ...way, worth: way.worth - cost } : most;
        }, none),
      ),
    );
  });
  return [...best.beats];
}

const models = fc.record({
  freedom: fc.double({ min: 0.015, max: 0.3, noNaN: true }),
  jitter: fc.double({ min: 0.02, max: 0.04, noNaN: true }),
  leap: fc.double({ min: 2, max: 9, noNaN: true }),
  levelWeight: fc.double({ min: 0.2, max: 0.6, noNaN: true }),
});

describe('the path of beats', () => {
  test('is the best of all paths, though most are passed over', () => {
    fc.assert(
      fc.property(
        models,
        fc.integer({ min: 1, max: 1e6 }),
        fc.integer({ min: 2, max: 16 }),
        fc.boolean(),
        (given, seed, n, knows) => {
          const random = makeRandom(seed);
          let at = 0.3;
          const times = Float64Array.from({ length: n }, () => {
            at += 0.05 + 0.5 * random() ** 2 + (random() < 0.1 ? 2 : 0);
            return at;
          });
          const patterns = Float64Array.from({ length: 2048 }, () => -1 - 8 * random());
          const rhythms = Float64Array.from({ length: n * n * 17 }, () => 1 - 4 * random());
          const span = spanScore({
            onsets: times,
            places: times,
            firstOnsets: Int32Array.from(times, (_, i) => i),
            rates: times.map(() => 2 + 6 * random()),
            gains: knows ? Float64Array.from({ length: n * 12 }, () => 2 * random() - 1) : null,
            patterns,
            patternWeight: 0.5,
            sounding: 0.88,
            soundingWeight: 1.5,
            rhythm: (from, to, parts) => rhythms[(from * n + to) * 17 + parts],
            mostRhythms: times.map((_, i) => 1 + (i % 3)),
            struck: [{ from: times[1] + 0.01, until: times[1] + 0.2 }],
          });
          const places: Places = {
            times,
            scores: times.map(() => 4 * random() - 2),
            must: new Uint8Array(n),
            starts: 2,
            end: times[n - 1],
            freeAt: -1,
            held: knows ? MOST_HELD : MOST,
          };
          const model: TempoModel = { ...given, level: -0.4, spread: 0.5, tail: 1.8 };
          const plain = plainPath(places, model, span);
          const found = findPath(places, model, span).times;
          expect(found).toHaveLength(plain.length);
          found.forEach((time, i) => {
            expect(time).toBeCloseTo(plain[i], 9);
          });
        },
      ),
      { seed: 4, numRuns: 40 },
    );
  });

  test('goes on through a sound that is held for ten beats where the tempo is known', () => {
    const times = Float64Array.of(1, 1.5, 2, 2.5, 7.5, 8, 8.5);
    const places = { times, scores: times.map(() => 3), must: new Uint8Array(7), starts: 1 };
    const model = { freedom: 0.1, jitter: 0.03, leap: 8, level: -0.7, spread: 0.3, levelWeight: 1 };
    const pathWith = (held: number) =>
      findPath(
        { ...places, end: 8.5, freeAt: -1, held, interval: 0.5 },
        { ...model, tail: 1 },
        (_, __, parts) => 1 - parts,
      ).times;
    expect(pathWith(MOST_HELD)).toHaveLength(16);
    expect(pathWith(MOST_HELD)[8]).toBeCloseTo(5, 9);
    expect(pathWith(MOST).length).toBeLessThan(11);
  });

  test('an interval is worth the same wherever it is asked for, or less than was enough', () => {
    const random = makeRandom(9);
    const onsets = Float64Array.from({ length: 40 }, (_, i) => i * 0.21 + 0.1 * random());
    const span = spanScore({
      onsets,
      places: onsets,
      firstOnsets: Int32Array.from(onsets, (_, i) => i),
      rates: onsets.map(() => 5),
      gains: Float64Array.from({ length: 480 }, () => 2 * random() - 1),
      patterns: Float64Array.from({ length: 2048 }, () => -9 * random()),
      patternWeight: 0.6,
      sounding: 0.9,
      soundingWeight: 1.4,
      rhythm: (from, to, parts) => Math.sin(from + 7 * to + 13 * parts),
      mostRhythms: onsets.map(() => 1),
      struck: [],
    });
    let passed = 0;
    for (let i = 0; i < 30; i++)
      for (let parts = 1; parts <= 4; parts++) {
        const all = span(i, i + 8, parts, Number.NEGATIVE_INFINITY);
        expect(span(i, i + 8, parts, all - 1e-9)).toBe(all);
        const asked = span(i, i + 8, parts, all + 20);
        if (asked === Number.NEGATIVE_INFINITY) passed++;
        else expect(asked).toBe(all);
      }
    expect(passed).toBeGreaterThan(0);
  });

  test('is the same to the last bit by kernels, with beats set, struck and known before', () => {
    fc.assert(
      fc.property(
        models,
        fc.integer({ min: 1, max: 1e6 }),
        fc.integer({ min: 1, max: 120 }),
        fc.boolean(),
        fc.boolean(),
        (given, seed, n, knows, locked) => {
          const random = makeRandom(seed);
          let at = 0.3;
          // Some onsets are nobody's place, and some rests are longer than any interval.
          const onsets = Float64Array.from({ length: 2 * n }, () => {
            at += 0.02 + 0.3 * random() ** 2 + (random() < 0.03 ? 3 : 0);
            return at;
          });
          const times = onsets.filter((_, i) => i % 2 === 0);
          const rhythms = Float64Array.from({ length: 997 }, () => 1 - 4 * random());
          const places: Places = {
            times,
            scores: times.map(() => 4 * random() - 2),
            must: Uint8Array.from(times, (_, i) => ((i === 0 ? locked : random() < 0.1) ? 1 : 0)),
            starts: locked ? 1 : Math.min(n, 3),
            end: onsets[onsets.length - 1],
            freeAt: random() < 0.5 ? -1 : Math.floor(random() * n),
            held: locked ? MOST_HELD : MOST,
            ...(locked && { interval: 0.3 + random() }),
          };
          const span = {
            onsets,
            places: times,
            firstOnsets: Int32Array.from(times, (_, i) => 2 * i),
            rates: times.map(() => 2 + (given.leap > 6 ? 28 : 6) * random()),
            gains: knows ? Float64Array.from({ length: 24 * n }, () => 2 * random() - 1) : null,
            patterns: Float64Array.from({ length: 2048 }, () => -1 - 8 * random()),
            patternWeight: 0.5,
            sounding: 0.88,
            soundingWeight: 1.5,
            rhythm: (from: number, to: number, parts: number, enough: number) => {
              const worth = rhythms[(from * 331 + to * 7 + parts) % 997];
              return worth < enough ? -Infinity : worth;
            },
            mostRhythms: times.map((_, i) => 1 + (i % 3)),
            struck: [{ from: times[0] + 0.01, until: times[0] + 0.2 }],
          };
          const model: TempoModel = { ...given, level: -0.4, spread: 0.5, tail: 1.8 };
          expect(bestPath(places, model, span)).toEqual(bestPath(places, model, span, null));
        },
      ),
      { seed: 5, numRuns: 150 },
    );
  });
});
