import type { Share } from '../../math/units.ts';

/** How far (share of all weight) past the middle one has to be: two halves that weigh the same differ by rounding. */
const past = 1e-4;

/** Weighted median of some values, the upper one of two; undefined where there are none. */
export function middle(
  values: readonly { readonly value: number; readonly says: Share }[],
): number | undefined {
  const sorted = [...values].sort((a, b) => a.value - b.value);
  const half = sorted.reduce((sum, { says }) => sum + says, 0) * (0.5 + past);
  let passed = 0;
  const found = sorted.find(({ says }) => {
    passed += says;
    return passed > half;
  });
  return (found ?? sorted[sorted.length >> 1])?.value;
}
