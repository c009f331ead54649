import { KernelRoom, type Kernels, kernels } from '../math/kernel.ts';
import type { Decibels, Samples, Seconds } from '../math/units.ts';
import { type Audio, lengthOf } from './audio.ts';

/** Level of a take over time: mean power over all channels in blocks of one length. */
export interface LevelCurve {
  /** One block, in seconds. */
  readonly hop: Seconds;
  /** Decibels below full scale of each block's root mean square; -120 for silence. */
  readonly levels: Float32Array;
}

/** Measures the level in blocks of `hop` seconds (10 ms by default), rounded to whole samples. */
export function levelCurve(
  audio: Audio,
  hop: Seconds = 0.01,
  kernel: Kernels | null = kernels(),
): LevelCurve {
  const block: Samples = Math.max(1, Math.round(hop * audio.sampleRate));
  const length = lengthOf(audio);
  const power = new Float64Array(Math.ceil(length / block));
  const add = kernel ? adderByFour(block, kernel) : addPowers;
  for (const channel of audio.channels) add(channel, block, power);
  const levels = Float32Array.from(power, (sum, b) => {
    const mean = sum / (Math.min(block, length - b * block) * audio.channels.length);
    return 10 * Math.log10(Math.max(mean, 1e-12));
  });
  return { hop: block / audio.sampleRate, levels };
}

/** Adds the sum of the squares of each block. */
function addPowers(channel: Float32Array, block: Samples, power: Float64Array): void {
  for (let b = 0; b < power.length; b++) {
    const end = Math.min(channel.length, (b + 1) * block);
    let sum = 0;
    for (let i = b * block; i < end; i++) sum += channel[i] * channel[i];
    power[b] += sum;
  }
}

/** About as many samples are handed to the kernels at once. */
const together: Samples = 16384;

/** The same by the kernels, some blocks at a time. */
function adderByFour(block: Samples, kernel: Kernels): typeof addPowers {
  const blocks = Math.max(1, Math.floor(together / block));
  const room = new KernelRoom(kernel);
  const place = room.place(blocks * block * 4);
  const sums = room.place(blocks * 4);
  const samples = room.floats(place, blocks * block);
  const found = room.floats(sums, blocks);
  return (channel, _, power) => {
    for (let b = 0; b < power.length; b += blocks) {
      const part = channel.subarray(b * block, (b + blocks) * block);
      samples.set(part);
      samples.fill(0, part.length);
      kernel.energies(place, block, blocks, sums);
      const last = Math.min(power.length, b + blocks);
      for (let k = b; k < last; k++) power[k] += found[k - b];
    }
  };
}

/** Mean power of a stretch in decibels; -120 where nothing sounds. */
export function meanLevel(curve: LevelCurve, from: Seconds, until: Seconds): Decibels {
  return meanBetween(curve.hop, powersOf(curve), from, until);
}

const known = new WeakMap<LevelCurve, Float64Array>();

/** The power of each block, kept with the curve. */
function powersOf(curve: LevelCurve): Float64Array {
  const made = known.get(curve) ?? Float64Array.from(curve.levels, (level) => 10 ** (level / 10));
  known.set(curve, made);
  return made;
}

function meanBetween(hop: Seconds, powers: Float64Array, from: Seconds, until: Seconds): Decibels {
  const first = Math.max(0, Math.floor(from / hop));
  const last = Math.min(powers.length, Math.max(first + 1, Math.ceil(until / hop)));
  let power = 0;
  for (let b = first; b < last; b++) power += powers[b];
  return last > first ? 10 * Math.log10(Math.max(power / (last - first), 1e-12)) : -120;
}
