/** One mode of a round skin held at its rim: m nodal lines across, n nodal circles. */
export interface MembraneMode {
  readonly m: number;
  readonly n: number;
  /** The n-th zero of the Bessel function of order m. */
  readonly zero: number;
  /** Frequency against the lowest mode's, with air on the skin. */
  readonly ratio: number;
  /** How well the mode is heard outside. */
  readonly voice: number;
  /** Which way the mode's nodal line lies. */
  readonly turn: number;
}

/** Zeros of J_m (Abramowitz and Stegun, "Handbook of Mathematical Functions", table 9.5). */
const zeros: readonly (readonly number[])[] = [
  [2.40483, 5.52008, 8.65373, 11.79153],
  [3.83171, 7.01559, 10.17347, 13.32369],
  [5.13562, 8.41724, 11.61984],
  [6.38016, 9.76102, 13.0152],
  [7.58834, 11.06471, 14.37254],
  [8.77148, 12.3386],
  [9.93611, 13.58929],
  [11.08637, 14.82127],
];

/**
 * The modes of an ideal skin stand in the ratios of the zeros. Air moves with the lowest ones and
 * slows them (Rossing, "Science of Percussion Instruments", 2000, chapter 2), which
 * spreads the rest upwards: modelled as a mass that counts less the higher the mode.
 */
export const membraneModes: readonly MembraneMode[] = zeros.flatMap((row, m) =>
  row.map((zero, index) => {
    const slowed = (value: number) => value / Math.sqrt(1 + 1.1 / value);
    return {
      m,
      n: index + 1,
      zero,
      ratio: slowed(zero) / slowed(zeros[0][0]),
      voice: (m === 0 ? 1 : 0.8 / Math.sqrt(m)) * (2.4 / zero) ** 0.35,
      turn: 0.37 * m + 0.2 * index,
    };
  }),
);

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
