import { KernelRoom, type Kernels, kernels } from '../../math/kernel.ts';
import type { Hertz } from '../../math/units.ts';
import type { Tuning } from '../heard.ts';
import type { Partials } from './partials.ts';

/** A peak within this many cents of a lower peak's multiple may be that one's overtone. */
const overtoneWidth = 35;
const highestRatio = 2 ** (overtoneWidth / 1200);
const lowestRatio = 1 / highestRatio;

/** What is left of a peak when the likely overtones of lower peaks are taken off: a fundamental's share. */
function fundamental({ frequencies, magnitudes }: Partials, i: number): number {
  let left = magnitudes[i];
  for (let j = 0; j < frequencies.length; j++) {
    const ratio = frequencies[i] / frequencies[j];
    if (ratio < 2 * lowestRatio || ratio > 6 * highestRatio) continue;
    const multiple = Math.round(ratio);
    if (ratio < multiple * lowestRatio || ratio > multiple * highestRatio) continue;
    left -= magnitudes[j] / Math.sqrt(multiple);
  }
  return Math.max(left, 0);
}

/**
 * Weight of each pitch class (from C) in every moment. Magnitudes are pressed to their fourth root, so that
 * how long a note sounds counts for more than how loud it is. Kept with the moments: several listeners ask.
 */
export function chromasOf(moments: readonly Partials[], tuning: Tuning): readonly Float64Array[] {
  const made = known.get(moments);
  if (made?.a4 === tuning.a4) return made.chromas;
  const chromas = weighed(moments, tuning);
  known.set(moments, { a4: tuning.a4, chromas });
  return chromas;
}

const known = new WeakMap<
  readonly Partials[],
  { readonly a4: Hertz; readonly chromas: readonly Float64Array[] }
>();

/** Weighs the pitch classes of every moment. */
export function weighed(
  moments: readonly Partials[],
  tuning: Tuning,
  kernel: Kernels | null = kernels(),
): Float64Array[] {
  return kernel
    ? weighedByKernel(moments, tuning, kernel)
    : moments.map((moment) => {
        const chroma = new Float64Array(12);
        moment.frequencies.forEach((frequency, i) => {
          const note = Math.round(69 + 12 * Math.log2(frequency / tuning.a4));
          chroma[((note % 12) + 12) % 12] += fundamental(moment, i) ** 0.25;
        });
        return chroma;
      });
}

function weighedByKernel(
  moments: readonly Partials[],
  { a4 }: Tuning,
  kernel: Kernels,
): Float64Array[] {
  const most = moments.reduce((n, { frequencies }) => Math.max(n, frequencies.length), 0);
  const room = new KernelRoom(kernel);
  const [f, m, out] = [most, most, 12].map((n) => room.place(n * 8));
  const given = [room.doubles(f, most), room.doubles(m, most)];
  const found = room.doubles(out, 12);
  return moments.map(({ frequencies, magnitudes }) => {
    given[0].set(frequencies);
    given[1].set(magnitudes);
    found.fill(0);
    kernel.pitchClasses(f, m, frequencies.length, a4, highestRatio, out);
    return found.slice();
  });
}
