import { describe, expect, it } from 'vitest';
import { middle } from '../../shared/warp/plan/weighted-median.ts';

const all = (values: readonly number[], says = (_: number) => 1) =>
  middle(values.map((value, i) => ({ value, says: says(i) })));

describe('weighted median', () => {
  it('is the middle one, the upper of two', () => {
    expect(all([3, 1, 2])).toBe(2);
    expect(all([4, 1, 3, 2])).toBe(3);
    expect(all([])).toBeUndefined();
  });

  it('lets what weighs little say little', () => {
    expect(all([1, 2, 3, 9, 9, 9, 9], (i) => (i < 3 ? 1 : 1e-6))).toBe(2);
  });

  it('is the same whatever weights that are alike are rounded by', () => {
    for (const sign of [-1, 1]) expect(all([4, 1, 3, 2], (i) => 1 + sign * i * 1e-7)).toBe(3);
  });

  it('has something to say where nothing weighs anything', () => {
    expect(all([4, 1, 3, 2], () => 0)).toBe(3);
  });
});
