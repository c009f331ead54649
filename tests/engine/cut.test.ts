import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  joinSlices,
  moveEdge,
  moveLanding,
  snapToOnset,
  splitSlice,
} from '../../shared/cut/edits.ts';
import type { NamedSlice } from '../../shared/cut/slice.ts';
import { beforeAttack, type CutMaterial, suggestSlices } from '../../shared/cut/suggest.ts';
import type { Onset } from '../../shared/hear/heard.ts';

const seconds = 30;
const onsetLists = fc
  .uniqueArray(fc.integer({ min: 0, max: 2990 }), { minLength: 1, maxLength: 80 })
  .chain((ticks) =>
    fc.tuple(
      fc.constant([...ticks].sort((a, b) => a - b)),
      fc.array(fc.double({ min: 0.01, max: 1, noNaN: true }), {
        minLength: ticks.length,
        maxLength: ticks.length,
      }),
    ),
  )
  .map(([ticks, strengths]): Onset[] =>
    ticks.map((tick, i) => ({ time: tick / 100, strength: strengths[i] })),
  );

const materialOf = (onsets: readonly Onset[]): CutMaterial => ({
  seconds,
  levels: { hop: 0.01, levels: new Float32Array(3000).fill(-20) },
  onsets,
  phrases: [
    { start: onsets[0].time, end: 15, energy: -20 },
    { start: 15, end: 30, energy: -20 },
  ],
  beats: [],
});
const wishes = fc.integer({ min: 0, max: 100 });

describe('suggested slices', () => {
  it('keep start <= landing < end, in order, without overlap, inside the take', () => {
    fc.assert(
      fc.property(onsetLists, wishes, (onsets, cuts) => {
        const slices = suggestSlices(materialOf(onsets), cuts);
        slices.forEach((slice, i) => {
          expect(slice.start).toBeGreaterThanOrEqual(0);
          expect(slice.start).toBeLessThanOrEqual(slice.landing);
          expect(slice.landing).toBeLessThan(slice.end);
          expect(slice.end).toBeLessThanOrEqual(Math.max(seconds, slice.landing + 0.02));
          if (i > 0) expect(slice.start).toBeGreaterThanOrEqual(slices[i - 1].end - 1e-9);
        });
      }),
    );
  });

  it('more cuts only add landings', () => {
    fc.assert(
      fc.property(onsetLists, wishes, wishes, (onsets, a, b) => {
        const few = suggestSlices(materialOf(onsets), Math.min(a, b)).map((s) => s.landing);
        const many = new Set(
          suggestSlices(materialOf(onsets), Math.max(a, b)).map((s) => s.landing),
        );
        for (const landing of few) expect(many.has(landing)).toBe(true);
      }),
    );
  });

  it('gives no grace note a slice of its own while there is another place to cut', () => {
    fc.assert(
      fc.property(onsetLists, wishes, (onsets, cuts) => {
        const material = materialOf(onsets);
        const landings = suggestSlices(material, cuts).map((slice) => slice.landing);
        const close = landings.some((landing, i) => i > 0 && landing - landings[i - 1] < 0.16);
        if (!close) return;
        for (const { landing } of suggestSlices(material, 100))
          expect(landings.some((chosen) => Math.abs(chosen - landing) < 0.16)).toBe(true);
      }),
    );
  });

  it('every landing is an onset and no cut falls within 60 ms after a landing', () => {
    fc.assert(
      fc.property(onsetLists, wishes, (onsets, cuts) => {
        const slices = suggestSlices(materialOf(onsets), cuts);
        for (const slice of slices) {
          expect(onsets.some((onset) => onset.time === slice.landing)).toBe(true);
          for (const other of slices)
            if (other.start > slice.landing)
              expect(other.start - slice.landing).toBeGreaterThan(0.06 - beforeAttack - 1e-9);
        }
      }),
    );
  });

  it('a weak pickup stays in front of the strong note it leads to', () => {
    const onsets = [
      { time: 1, strength: 0.9 },
      { time: 4.88, strength: 0.1 },
      { time: 5, strength: 0.9 },
    ];
    const slices = suggestSlices({ ...materialOf(onsets), phrases: [] }, 60);
    expect(slices.map((s) => s.landing)).toEqual([1, 5]);
    expect(slices[1].start).toBeCloseTo(4.88 - beforeAttack, 9);
  });

  it('a slice ends where its sound has died', () => {
    const levels = new Float32Array(3000).fill(-100);
    levels.fill(-20, 100, 180);
    const slices = suggestSlices(
      { ...materialOf([{ time: 1, strength: 1 }]), levels: { hop: 0.01, levels } },
      100,
    );
    expect(slices[0].end).toBeCloseTo(1.8, 9);
  });

  it('silence has none', () => {
    expect(suggestSlices({ ...materialOf([{ time: 1, strength: 1 }]), onsets: [] }, 50)).toEqual(
      [],
    );
  });
});

const named = (onsets: readonly Onset[], cuts: number): NamedSlice[] =>
  suggestSlices(materialOf(onsets), cuts).map((slice, i) => ({
    ...slice,
    id: `s${i}`,
    by: 'heard',
  }));

const sound = (slices: readonly NamedSlice[]) => {
  slices.forEach((slice, i) => {
    expect(slice.start).toBeLessThanOrEqual(slice.landing);
    expect(slice.landing).toBeLessThan(slice.end);
    if (i > 0) expect(slice.start).toBeGreaterThanOrEqual(slices[i - 1].start);
  });
  expect(new Set(slices.map((slice) => slice.id)).size).toBe(slices.length);
};

describe('edits', () => {
  const spots = fc.double({ min: 0, max: seconds, noNaN: true });
  const nth = fc.nat({ max: 200 });

  it('any edge or landing moved anywhere leaves sound slices', () => {
    fc.assert(
      fc.property(
        onsetLists,
        wishes,
        fc.array(fc.tuple(nth, fc.constantFrom('start', 'end', 'landing'), spots), {
          maxLength: 12,
        }),
        (onsets, cuts, moves) => {
          let slices = named(onsets, cuts);
          for (const [n, what, time] of moves) {
            const { id } = slices[n % slices.length];
            slices =
              what === 'landing'
                ? moveLanding(slices, id, time)
                : moveEdge(slices, id, what as 'start' | 'end', time, seconds);
            sound(slices);
          }
        },
      ),
    );
  });

  it('split then join gives the same stretch with the first landing', () => {
    fc.assert(
      fc.property(
        onsetLists,
        nth,
        fc.double({ min: 0.1, max: 0.9, noNaN: true }),
        (onsets, n, share) => {
          const slices = named(onsets, 30);
          const slice = slices[n % slices.length];
          const at = slice.start + share * (slice.end - slice.start);
          const parts = splitSlice(slices, slice.id, at, onsets, 'new');
          sound(parts);
          if (parts.length === slices.length) {
            expect(parts).toEqual(slices);
            return;
          }
          const joined = joinSlices(parts, [slice.id, 'new']).find((s) => s.id === slice.id);
          expect([joined?.start, joined?.end]).toEqual([slice.start, slice.end]);
        },
      ),
    );
  });

  it('snaps to just before the nearest attack, and only within reach', () => {
    const onsets = [{ time: 2, strength: 1 }];
    expect(snapToOnset(onsets, 2.02, 0.05)).toBeCloseTo(2 - beforeAttack, 12);
    expect(snapToOnset(onsets, 2.2, 0.05)).toBe(2.2);
  });
});
