import { KernelRoom, type Kernels, kernels } from '../../math/kernel.ts';
import type { Hertz } from '../../math/units.ts';
import type { Tuning } from '../heard.ts';
import { type Overtones, withoutOvertones } from './overtones.ts';
import type { Partials } from './partials.ts';

/** What is left of a peak is a fundamental's share: within 35 cents of a lower one's multiple it may be its overtone. */
const overtones: Overtones = { width: 2 ** (35 / 1200), highest: 6, share: 1, octaves: true };

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
          chroma[((note % 12) + 12) % 12] += withoutOvertones(moment, i, overtones) ** 0.25;
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
    const { highest, width, share } = overtones;
    kernel.pitchClasses(f, m, frequencies.length, highest, width, share, a4, out);
    return found.slice();
  });
}
