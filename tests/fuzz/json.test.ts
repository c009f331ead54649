import fc from 'fast-check';
import { expect, test } from 'vitest';
import { InputError } from '../../shared/math/input-error.ts';
import { mapTime, unmapTime } from '../../shared/time/time-map.ts';
import { readFixes } from '../../src/cli/fixes-json.ts';
import { readMap } from '../../src/cli/map-json.ts';
import { readProject, writeProject } from '../../src/store/project-file.ts';

/** The value that was read, or null where it was refused in one clear sentence. */
function readsOrRefuses<T>(read: () => T): T | null {
  try {
    return read();
  } catch (error) {
    expect(error).toBeInstanceOf(InputError);
    expect((error as Error).message).toMatch(/^[^\n]+\.$/);
    return null;
  }
}

/** Numbers that make trouble, as JSON can carry them. */
const odd = fc.oneof(
  fc.double(),
  fc.constantFrom(0, -0, -1, 1e308, -1e308, 5e-324, Number.MAX_SAFE_INTEGER, null, '1', true),
);
const around = (keys: readonly string[]) =>
  fc.dictionary(
    fc.oneof(fc.constantFrom(...keys), fc.string({ maxLength: 4 })),
    fc.oneof(odd, fc.jsonValue()),
  );

/** What went through a file. */
const filed = (value: unknown): unknown => JSON.parse(JSON.stringify(value) ?? 'null');

test('any JSON as fixes', () => {
  const keys = ['beat', 'notBeat', 'one', 'free', 'shift', 'level', 'from', 'by'];
  const inputs = fc.oneof(
    fc.jsonValue(),
    fc.record({ fixes: fc.oneof(fc.jsonValue(), fc.array(around(keys), { maxLength: 5 })) }),
  );
  fc.assert(
    fc.property(inputs, (input) => {
      const value = filed(input);
      const fixes = readsOrRefuses(() => readFixes(value, 'x.json'));
      if (!fixes) return;
      expect(fixes.length).toBe((value as { fixes: unknown[] }).fixes.length);
      // What was understood is understood again, alike.
      expect(readFixes({ fixes }, 'x')).toEqual(fixes);
    }),
    { seed: 1, numRuns: 1000 },
  );
});

test('any JSON as a map', () => {
  const anchor = fc.oneof(
    fc.record({ from: fc.double({ min: 0, max: 100, noNaN: true }), to: odd }),
    around(['from', 'to']),
  );
  const inputs = fc.oneof(
    fc.jsonValue(),
    fc.record({
      anchors: fc.oneof(fc.jsonValue(), fc.array(anchor, { maxLength: 4 })),
      seconds: fc.oneof(fc.constant(20), odd),
    }),
  );
  fc.assert(
    fc.property(inputs, (input) => {
      const read = readsOrRefuses(() => readMap(filed(input), 'x.json'));
      if (!read) return;
      expect(read.seconds).toBeGreaterThan(0);
      let before = Number.NEGATIVE_INFINITY;
      for (const { from } of read.map.anchors) {
        expect(mapTime(read.map, from)).toBeGreaterThan(before);
        before = mapTime(read.map, from);
      }
      expect(Number.isFinite(unmapTime(read.map, read.seconds))).toBe(true);
    }),
    { seed: 2, numRuns: 1000 },
  );
});

test('any JSON as a project', () => {
  const keys = [
    'id',
    'name',
    'hash',
    'start',
    'landing',
    'end',
    'slice',
    'at',
    'bpm',
    'bars',
    'source',
  ];
  const list = fc.oneof(fc.jsonValue(), fc.array(around(keys), { maxLength: 4 }));
  const inputs = fc.oneof(
    fc.jsonValue(),
    fc.record({
      version: fc.oneof(fc.constant(1), odd),
      take: fc.oneof(around(['hash', 'name', 'sampleRate']), fc.jsonValue()),
      name: fc.oneof(fc.string(), odd),
      stems: list,
      fixes: list,
      slices: list,
      pads: list,
      lanes: list,
    }),
  );
  fc.assert(
    fc.property(inputs, (input) => {
      const read = readsOrRefuses(() => readProject(filed(input), 'x.json'));
      if (!read) return;
      // What was repaired needs no repair again.
      const again = readProject(JSON.parse(writeProject(read.project)), 'x.json');
      expect(again.project).toEqual(read.project);
      expect(again.repairs).toEqual([]);
    }),
    { seed: 3, numRuns: 500 },
  );
});
