import { makeRandom } from '../shared/math/random.ts';

/** Seeded chance in the shapes that players and instruments need. */
export interface Chance {
  /** Even in [from, to). */
  between(from: number, to: number): number;
  /** Noise for sound: deviation 1, a triangle's distribution, quick. */
  noise(): number;
  /** Normal with mean 0 and deviation 1, never beyond three (Box and Muller 1958). */
  normal(): number;
}

export function makeChance(seed: number): Chance {
  const random = makeRandom(seed);
  return {
    between: (from, to) => from + (to - from) * random(),
    noise: () => 2.449489742783178 * (random() - random()),
    normal: () => {
      const radius = Math.sqrt(-2 * Math.log(1 - random()));
      const value = radius * Math.cos(2 * Math.PI * random());
      return Math.min(3, Math.max(-3, value));
    },
  };
}
