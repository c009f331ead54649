import { KernelRoom, type Kernels, kernels } from '../../math/kernel.ts';
import type { Cents, Seconds } from '../../math/units.ts';
import type { Audio } from '../../take/audio.ts';
import type { Tuning } from '../heard.ts';
import { type Overtones, withoutOvertones } from './overtones.ts';
import { hearPartials, type Partials } from './partials.ts';

/** Drift is read off stretches of this length, and only where there are this many of them. */
const stretch: Seconds = 4;
const fewest = 4;

/**
 * What lies within 20 cents of a lower partial's multiple hardly counts. Octaves do; the other overtones are not tempered
 * (the third one is 2 cents wide, the fifth 14 narrow, the seventh 31), and would tell of themselves instead of the tuning.
 */
const overtones: Overtones = { width: 2 ** (20 / 1200), highest: 16, share: 4, octaves: false };

/**
 * How far the recording's notes stand from equal temperament on A4 = 440 Hz (ISO 16): the circular mean
 * of all partials' distances to the nearest semitone, weighted by what is no overtone of a lower one. The
 * confidence is the length of that mean vector: 1 where all agree, 0 where nothing is tuned.
 */
export function hearTuning(audio: Audio): Tuning {
  return tuningOf(hearPartials(audio));
}

/** The same from partials heard already; kept with them, since several listeners ask. */
export function tuningOf(moments: readonly Partials[]): Tuning {
  const made = known.get(moments) ?? measured(moments);
  known.set(moments, made);
  return made;
}

const known = new WeakMap<readonly Partials[], Tuning>();

/** Measures the tuning of moments anew. */
export function measured(moments: readonly Partials[], kernel: Kernels | null = kernels()): Tuning {
  const add = kernel ? adderByKernel(moments, kernel) : added;
  const sums = new Map<number, Sum>();
  for (const moment of moments) {
    const key = Math.floor(moment.time / stretch);
    sums.set(key, add(sums.get(key) ?? { x: 0, y: 0, total: 0 }, moment));
  }
  const all = [...sums.values()].reduce(
    (a, b) => ({ x: a.x + b.x, y: a.y + b.y, total: a.total + b.total }),
    { x: 0, y: 0, total: 0 },
  );
  if (all.total === 0) return { a4: 440, cents: 0, confidence: 0, drift: 0 };
  const cents = centsOf(all);
  const a4 = 440 * 2 ** (cents / 1200);
  return { a4, cents, confidence: Math.hypot(all.x, all.y) / all.total, drift: drift(sums, cents) };
}

/** Sum of weighted unit vectors, a whole turn to a semitone. */
interface Sum {
  readonly x: number;
  readonly y: number;
  readonly total: number;
}

function added(sum: Sum, moment: Partials): Sum {
  let { x, y, total } = sum;
  moment.frequencies.forEach((frequency, i) => {
    const weight = Math.sqrt(withoutOvertones(moment, i, overtones));
    const angle = 2 * Math.PI * 12 * Math.log2(frequency / 440);
    x += weight * Math.cos(angle);
    y += weight * Math.sin(angle);
    total += weight;
  });
  return { x, y, total };
}

/** The same by kernels, to the last bit. */
function adderByKernel(moments: readonly Partials[], kernel: Kernels): typeof added {
  const most = moments.reduce((n, { frequencies }) => Math.max(n, frequencies.length), 0);
  const room = new KernelRoom(kernel);
  const [f, m, out] = [most, most, 3].map((n) => room.place(n * 8));
  const given = [room.doubles(f, most), room.doubles(m, most)];
  const sums = room.doubles(out, 3);
  const { highest, width, share } = overtones;
  return ({ x, y, total }, { frequencies, magnitudes }) => {
    given[0].set(frequencies);
    given[1].set(magnitudes);
    sums.set([x, y, total]);
    kernel.tuned(f, m, frequencies.length, highest, width, share, out);
    return { x: sums[0], y: sums[1], total: sums[2] };
  };
}

function centsOf({ x, y }: Sum): Cents {
  return (Math.atan2(y, x) / (2 * Math.PI)) * 100;
}

/**
 * How many cents the tuning rises from the first stretch to the last: a straight line through the
 * stretches' distances from the whole take's tuning, weighted by how clearly each is tuned.
 */
function drift(sums: ReadonlyMap<number, Sum>, cents: Cents): Cents {
  const points = [...sums].map(([key, sum]) => {
    const away = centsOf(sum) - cents;
    return {
      at: key,
      cents: away - 100 * Math.round(away / 100),
      weight: Math.hypot(sum.x, sum.y),
    };
  });
  const weight = points.reduce((total, p) => total + p.weight, 0);
  if (points.length < fewest || weight === 0) return 0;
  const mean = (pick: (p: (typeof points)[number]) => number): number =>
    points.reduce((total, p) => total + p.weight * pick(p), 0) / weight;
  const middle = mean((p) => p.at);
  const level = mean((p) => p.cents);
  const spread = mean((p) => (p.at - middle) ** 2);
  if (spread === 0) return 0;
  const slope = mean((p) => (p.at - middle) * (p.cents - level)) / spread;
  const keys = points.map((p) => p.at);
  return slope * (Math.max(...keys) - Math.min(...keys));
}
