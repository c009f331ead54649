import { describe, expect, it } from 'vitest';
import { crowding as crowdingOf } from '../../shared/warp/plan/crowding.ts';

const crowding = (values: Float64Array): number => crowdingOf({ values });

/** Power with a peak at each of some bins. */
function peaksAt(...peaks: readonly (readonly [bin: number, power: number])[]): Float64Array {
  const power = new Float64Array(257);
  for (const [bin, level] of peaks) {
    power[bin] = level;
    power[bin - 1] = power[bin + 1] = level / 4;
  }
  return power;
}

describe('crowding of partials', () => {
  it('counts partials that have another one near them, by magnitude', () => {
    expect(crowding(peaksAt([20, 1], [40, 1]))).toBe(0);
    expect(crowding(peaksAt([20, 1], [26, 1]))).toBe(1);
    expect(crowding(peaksAt([20, 1], [26, 1], [60, 4]))).toBeCloseTo(0.5, 12);
    expect(crowding(peaksAt([20, 1], [26, 1], [32, 1], [60, 1]))).toBeCloseTo(0.75, 12);
  });

  it('takes a strong partial beside a weak one for clear, not the weak one', () => {
    expect(crowding(peaksAt([20, 1], [26, 0.01]))).toBeCloseTo(0.1 / 1.1, 12);
    expect(crowding(peaksAt([20, 0.01], [26, 1]))).toBeCloseTo(0.1 / 1.1, 12);
  });

  it('finds nothing in silence or what is too weak to be heard', () => {
    expect(crowding(new Float64Array(257))).toBe(0);
    expect(crowding(peaksAt([20, 1], [26, 1e-4]))).toBe(0);
  });
});
