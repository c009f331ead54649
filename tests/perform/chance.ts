import { makeRandom } from '../../shared/math/random.ts';

/** A seeded player of dice: everything that happens by chance in a test performance comes from one. */
export class Chance {
  private readonly next: () => number;

  constructor(seed: number) {
    this.next = makeRandom(seed);
    for (let i = 0; i < 8; i++) this.next();
  }

  /** Even between `low` and `high`. */
  between(low: number, high: number): number {
    return low + (high - low) * this.next();
  }

  /** A whole number from `low` to `high`, both included. */
  whole(low: number, high: number): number {
    return Math.floor(this.between(low, high + 1));
  }

  /** True this share of the time. */
  odds(share: number): boolean {
    return this.next() < share;
  }

  /** Normally distributed, cut off at three deviations (Box and Muller 1958). */
  normal(mean: number, deviation: number): number {
    const radius = Math.sqrt(-2 * Math.log(1 - this.next()));
    const z = radius * Math.cos(2 * Math.PI * this.next());
    return mean + deviation * Math.max(-3, Math.min(3, z));
  }

  pick<T>(from: readonly T[]): T {
    const chosen = from[Math.floor(this.next() * from.length)];
    if (chosen === undefined) throw new RangeError('There is nothing to pick from.');
    return chosen;
  }

  /** A stream of its own, so that a change in one part of a piece leaves the others alone. */
  fork(): Chance {
    return new Chance(Math.floor(this.next() * 4294967296));
  }
}
