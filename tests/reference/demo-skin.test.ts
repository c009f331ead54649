import { expect, it } from 'vitest';
import { besselJ, besselZeros, membraneModes } from '../../demo/instruments/membrane.ts';

it('finds the zeros of J_m (Abramowitz and Stegun, Handbook of Mathematical Functions, table 9.5)', () => {
  const table = [
    [2.40483, 5.52008, 8.65373, 11.79153],
    [3.83171, 7.01559, 10.17347, 13.32369],
    [5.13562, 8.41724, 11.61984, 14.79595],
    [6.38016, 9.76102, 13.0152, 16.22347],
  ];
  table.forEach((row, m) => {
    const zeros = besselZeros(m, 17).slice(0, 4);
    zeros.forEach((zero, index) => {
      expect(zero).toBeCloseTo(row[index], 4);
      expect(besselJ(m, zero)).toBeCloseTo(0, 9);
    });
  });
});

it('keeps the order of a skin without air and spreads it with air', () => {
  const modes = membraneModes(12);
  const [lowest] = modes;
  expect(lowest.ratio).toBe(1);
  for (const mode of modes)
    expect(mode.ratio).toBeGreaterThanOrEqual(mode.zero / lowest.zero - 1e-9);
});
