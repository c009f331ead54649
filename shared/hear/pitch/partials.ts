import { KernelRoom, type Kernels, kernels } from '../../math/kernel.ts';
import { eachEight, eachPowerSpectrum, laneOf } from '../../math/power-spectra.ts';
import { type Source, sourceOf } from '../../math/source.ts';
import type { Hertz, Samples, Seconds } from '../../math/units.ts';
import type { Audio } from '../../take/audio.ts';
import { ANALYSIS_RATE, resample } from '../analysis-rate.ts';
import { atAnalysisRate, type HearingSignal } from '../hearing-signal.ts';

/** The spectral peaks of one moment: frequencies and magnitudes side by side, strongest first. */
export interface Partials {
  readonly time: Seconds;
  readonly frequencies: readonly Hertz[];
  readonly magnitudes: readonly number[];
}

const lowest: Hertz = 60;
const highest: Hertz = 2200;
/** Pitch is heard at this rate, and in windows of so many samples: nothing above `highest` is wanted. */
const rate: Hertz = ANALYSIS_RATE / 2.5;
const size: Samples = 2048;
/** A peak this far below the strongest of its moment, or of the whole take, is no note. */
const belowMoment = 0.01;
const belowTake = 0.001;

/**
 * Spectral peaks between 60 and 2200 Hz in windows of about 0.23 s, one every `hop` seconds. A peak's
 * frequency is refined by a parabola through three log magnitudes (J. O. Smith, Spectral Audio Signal
 * Processing, "Quadratic Interpolation of Spectral Peaks"). At most `most` peaks a window, strongest first.
 *
 * @param sound the recording made ready for hearing
 */
export function hearPartials(
  audio: Audio,
  hop: Seconds = 0.1,
  most = 24,
  sound: Pick<HearingSignal, 'whole'> = { whole: atAnalysisRate(audio) },
  kernel: Kernels | null = kernels(),
): Partials[] {
  const signal = sourceOf(resample(sound.whole, 5, 2));
  const centers: number[] = [];
  for (let center = 0; center < signal.length; center += hop * rate) centers.push(center);
  const { moments, strongest } = kernel
    ? peaksByKernel(signal, centers, most, kernel)
    : peaksPlainly(signal, centers, most);
  return moments.map((moment) => audible(moment, strongest * belowTake));
}

/** Bins that may be peaks. */
const from = Math.max(2, Math.floor((lowest * size) / rate));
const until = Math.ceil((highest * size) / rate);

/** The peaks of each moment, and the largest magnitude of all. */
interface Peaks {
  readonly moments: Partials[];
  readonly strongest: number;
}

function startsOf(centers: readonly number[]): number[] {
  return centers.map((center) => Math.round(center - size / 2));
}

function peaksPlainly(signal: Source, centers: readonly number[], most: number): Peaks {
  const level = new Float64Array(until + 2);
  const moments: Partials[] = [];
  let strongest = 0;
  eachPowerSpectrum(
    signal,
    startsOf(centers),
    size,
    until + 2,
    (nth, powers) => {
      let top = 0;
      for (let k = from - 1; k <= until + 1; k++) {
        level[k] = Math.sqrt(powers[k]);
        if (level[k] > top) top = level[k];
      }
      strongest = Math.max(strongest, top);
      const least = Math.max(top * belowMoment, Number.MIN_VALUE);
      const peaks: number[] = [];
      for (let k = from; k <= until; k++)
        if (level[k] >= least && level[k] > level[k - 1] && level[k] >= level[k + 1]) peaks.push(k);
      peaks.sort((a, b) => level[b] - level[a]);
      peaks.length = Math.min(peaks.length, most);
      moments.push({
        time: centers[nth] / rate,
        frequencies: peaks.map((k) => refined(level, k, top)),
        magnitudes: peaks.map((k) => level[k]),
      });
    },
    null,
  );
  return { moments, strongest };
}

function peaksByKernel(
  signal: Source,
  centers: readonly number[],
  most: number,
  kernel: Kernels,
): Peaks {
  const room = new KernelRoom(kernel);
  const level = room.place((until + 2) * 8);
  const out = room.place((1 + 2 * most) * 8);
  const moments: Partials[] = [];
  let strongest = 0;
  eachEight(signal, startsOf(centers), size, until + 2, kernel, room, (first, count, powers) => {
    const found = room.doubles(out, 1 + 2 * most);
    for (let n = 0; n < count; n++) {
      const peaks = kernel.peaks(
        ...([powers + laneOf(n) * 4, from, until, belowMoment, Number.MIN_VALUE] as const),
        ...([most, rate, size, level, out] as const),
      );
      strongest = Math.max(strongest, found[0]);
      moments.push({
        time: centers[first + n] / rate,
        frequencies: Array.from(found.subarray(1, 1 + peaks)),
        magnitudes: Array.from(found.subarray(1 + most, 1 + most + peaks)),
      });
    }
  });
  return { moments, strongest };
}

/** Frequency of the peak at bin `k`; `top` is the moment's largest magnitude. */
function refined(level: Float64Array, k: number, top: number): Hertz {
  const a = Math.log(level[k - 1] + top * 1e-9);
  const b = Math.log(level[k]);
  const c = Math.log(level[k + 1] + top * 1e-9);
  const shift = (0.5 * (a - c)) / (a - 2 * b + c);
  return ((k + shift) * rate) / size;
}

/** The moment without what lies below a level: hiss between the notes is no harmony. */
function audible(moment: Partials, floor: number): Partials {
  const count = moment.magnitudes.findIndex((magnitude) => magnitude < floor);
  if (count < 0) return moment;
  return {
    time: moment.time,
    frequencies: moment.frequencies.slice(0, count),
    magnitudes: moment.magnitudes.slice(0, count),
  };
}
