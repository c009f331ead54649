/** One mode of a round skin held at its rim: m nodal lines across it. */
export interface MembraneMode {
  readonly m: number;
  /** The zero of the Bessel function of order m that belongs to it. */
  readonly zero: number;
  /** Frequency against the lowest mode's, with air on the skin. */
  readonly ratio: number;
}

/** Bessel function of the first kind of whole order, by its integral (converges at once for such sizes). */
export function besselJ(order: number, x: number): number {
  const steps = 48;
  let sum = 0;
  for (let k = 0; k < steps; k++) {
    const tau = (Math.PI * (k + 0.5)) / steps;
    sum += Math.cos(order * tau - x * Math.sin(tau));
  }
  return sum / steps;
}

/** The zeros of J_m below `limit`, without the one at 0. */
export function besselZeros(order: number, limit: number): number[] {
  const zeros: number[] = [];
  const step = 0.5;
  for (let x = Math.max(1, order); x < limit; x += step) {
    let from = x;
    let until = x + step;
    if (besselJ(order, from) * besselJ(order, until) > 0) continue;
    for (let round = 0; round < 40; round++) {
      const middle = (from + until) / 2;
      if (besselJ(order, from) * besselJ(order, middle) <= 0) until = middle;
      else from = middle;
    }
    zeros.push((from + until) / 2);
  }
  return zeros;
}

/**
 * The modes of an ideal skin stand in the ratios of the zeros of Bessel functions. Air moves with the
 * lowest ones and slows them (Rossing, "Science of Percussion Instruments", 2000), which spreads the
 * rest upwards: modelled as a mass that counts less the higher the mode.
 */
export function membraneModes(highest: number): MembraneMode[] {
  const slowed = (zero: number) => zero / Math.sqrt(1 + 1.1 / zero);
  const lowest = slowed(besselZeros(0, 3)[0]);
  return Array.from({ length: 12 }, (_, m) =>
    besselZeros(m, highest).map((zero) => ({ m, zero, ratio: slowed(zero) / lowest })),
  ).flat();
}
