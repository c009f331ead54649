import { KernelRoom, type Kernels, ownKernels } from '../../math/kernel.ts';

/** Rows of numbers that describe a take's onsets, and what is counted from them again with each fix. */
export interface Traits {
  /** Sums of each row's numbers by `weights`, the last of which is a constant. */
  sums(weights: Float64Array): Float64Array;
  /**
   * Weights refitted to rows known to carry a beat or not: the most likely ones under a normal prior around `prior`
   * (gradient steps with a diagonal second derivative).
   *
   * @param first the first row that teaches
   * @param judged 1 for a beat and 0 for none, from that row on
   * @param tight what a weight's distance from the prior costs: one over its spread, squared
   * @param forget what a row teaches loses with each row after it
   */
  refitted(
    first: number,
    judged: Uint8Array,
    prior: Float64Array,
    tight: Float64Array,
    forget: number,
  ): Float64Array;
}

/** Gradient steps: a few are enough, since they start from what is usual. */
const ROUNDS = 12;

/** @param width numbers in a row: kernels read pairs, so they take an even number only */
export function traitsIn(
  rows: Float64Array,
  width: number,
  kernel: Kernels | null = ownKernels(),
): Traits {
  return kernel && width % 2 === 0 ? kernelTraits(rows, width, kernel) : plainTraits(rows, width);
}

function plainTraits(rows: Float64Array, width: number): Traits {
  const sumOf = (weights: Float64Array, at: number): number => {
    let sum = weights[width];
    for (let c = 0; c < width; c++) sum += weights[c] * rows[at + c];
    return sum;
  };
  return {
    sums: (weights) =>
      Float64Array.from({ length: rows.length / width }, (_, row) => sumOf(weights, row * width)),
    refitted(first, judged, prior, tight, forget) {
      const model = prior.slice();
      const slope = new Float64Array(width + 1);
      const bend = new Float64Array(width + 1);
      for (let round = 0; round < ROUNDS; round++) {
        for (let c = 0; c <= width; c++) {
          slope[c] = (prior[c] - model[c]) * tight[c];
          bend[c] = tight[c];
        }
        let weight = 1;
        for (let row = judged.length - 1; row >= 0; row--) {
          const at = (first + row) * width;
          const likely = 1 / (1 + Math.exp(-sumOf(model, at)));
          const miss = (judged[row] - likely) * weight;
          const wide = likely * (1 - likely) * weight;
          for (let c = 0; c < width; c++) {
            const one = rows[at + c];
            slope[c] += miss * one;
            bend[c] += wide * one * one;
          }
          slope[width] += miss;
          bend[width] += wide;
          weight *= forget;
        }
        for (let c = 0; c <= width; c++) model[c] += (0.5 * slope[c]) / bend[c];
      }
      return model;
    },
  };
}

/** Rows read behind the last one by kernels, which take four at once. */
const BEYOND = 3;

/** The same by kernels, to the last bit; they keep the rows in a memory of their own. */
function kernelTraits(rows: Float64Array, width: number, kernel: Kernels): Traits {
  const n = rows.length / width;
  const room = new KernelRoom(kernel);
  const x = room.keepDoubles(rows, (n + BEYOND) * width);
  const own = () => room.place((width + 2) * 8);
  const [before, narrow, model, slope, bend] = [own(), own(), own(), own(), own()];
  const [misses, widths] = [room.place((n + BEYOND) * 8), room.place((n + BEYOND) * 8)];
  const known = room.place(n);
  const job = room.place(64);
  return {
    sums(weights) {
      room.doubles(model, width + 1).set(weights);
      kernel.rowSums(x, n, width, model, misses);
      return room.doubles(misses, n).slice();
    },
    refitted(first, judged, prior, tight, forget) {
      for (const at of [before, model]) room.doubles(at, width + 1).set(prior);
      room.doubles(narrow, width + 1).set(tight);
      room.bytes(known, judged.length).set(judged);
      room.doubles(job, 1)[0] = forget;
      room
        .whole(job + 8, 12)
        .set([
          ...[ROUNDS, judged.length, width, x + first * width * 8, known],
          ...[before, narrow, model, slope, bend, misses, widths],
        ]);
      kernel.weightsRefitted(job);
      return room.doubles(model, width + 1).slice();
    },
  };
}
