import { KernelRoom, type Kernels, kernels } from '../../math/kernel.ts';
import { sourceOf } from '../../math/source.ts';
import type { Audio } from '../../take/audio.ts';

const taps = 24;

/** Phases of an interpolating low-pass: a sinc under a Kaiser window, each phase of unit gain at DC. */
function interpolator(factor: number): readonly Float64Array[] {
  const beta = 6;
  return Array.from({ length: factor - 1 }, (_, phase) => {
    const h = new Float64Array(taps);
    let sum = 0;
    for (let i = 0; i < taps; i++) {
      // Distance from the tap to the point between the samples half - 1 and half.
      const t = i - (half - 1) - (phase + 1) / factor;
      const r = t / half;
      h[i] =
        (Math.sin(Math.PI * t) / (Math.PI * t)) *
        (bessel(beta * Math.sqrt(1 - r * r)) / bessel(beta));
      sum += h[i];
    }
    return h.map((v) => v / sum);
  });
}

/** Modified Bessel function of the first kind, order 0, by its series. */
function bessel(x: number): number {
  let term = 1;
  let sum = 1;
  for (let k = 1; term > sum * 1e-17; k++) {
    term *= (x / (2 * k)) ** 2;
    sum += term;
  }
  return sum;
}

/** Samples whose largest is kept, so that most stretches need no second look. */
const block = 64;
const half = taps / 2;

/**
 * The highest level between and on the samples, as a factor of full scale (ITU-R BS.1770-4, Annex 2):
 * four times oversampled below 88.2 kHz, twice above, as the annex asks for an oversampled rate of
 * 192 kHz or near it. What can't hold the peak is not interpolated: no value between samples passes the
 * samples near it by more than the taps' absolute sums.
 */
export function truePeak(audio: Audio, kernel: Kernels | null = kernels()): number {
  const phases = interpolator(audio.sampleRate < 88200 ? 4 : 2);
  const scan = kernel ? fastScan(phases, kernel) : plainScan(phases);
  const largest = audio.channels.map(scan.largestInBlocks);
  let peak = 0;
  for (const maxima of largest) for (const value of maxima) if (value > peak) peak = value;
  audio.channels.forEach((channel, c) => {
    peak = scan.highest(channel, largest[c], peak);
  });
  return peak;
}

/** Absolute sums of any phase's two middle taps on either side, and of all its other taps. */
function boundOf(phases: readonly Float64Array[]): { middle: number; rest: number } {
  const sum = (h: Float64Array) => h.reduce((total, v) => total + Math.abs(v), 0);
  const middles = phases.map((h) => sum(h.subarray(half - 2, half + 2)));
  const rests = phases.map((h, p) => sum(h) - middles[p]);
  return { middle: Math.max(...middles), rest: Math.max(...rests) };
}

interface Scan {
  /** The largest absolute sample of each block, after two silent ones and before two more. */
  largestInBlocks(this: void, channel: Float32Array): Float32Array;
  /**
   * The largest absolute value between the samples, or `peak` where that is more. There are blocks of silence
   * on either side: the filter rings before the first sample and after the last.
   */
  highest(this: void, channel: Float32Array, maxima: Float32Array, peak: number): number;
}

function plainScan(phases: readonly Float64Array[]): Scan {
  const { middle, rest } = boundOf(phases);
  const near = new Float32Array(block + taps);
  return {
    largestInBlocks(channel) {
      const maxima = new Float32Array(Math.ceil(channel.length / block) + 4);
      channel.forEach((value, i) => {
        const b = Math.floor(i / block) + 2;
        maxima[b] = Math.max(maxima[b], Math.abs(value));
      });
      return maxima;
    },
    highest(channel, maxima, peak) {
      const source = sourceOf(channel);
      let highest = peak;
      for (let b = -1; b < maxima.length - 3; b++) {
        const own = maxima[b + 2];
        const around = Math.max(maxima[b + 1], own, maxima[b + 3]);
        if (around * (middle + rest) <= highest) continue;
        source.read(near, b * block - half + 1);
        // The middle taps reach one sample before the block and two after it.
        const edge = Math.max(
          Math.abs(near[half - 2]),
          Math.abs(near[half + block - 1]),
          Math.abs(near[half + block]),
        );
        if (Math.max(own, edge) * middle + around * rest > highest)
          highest = Math.max(highest, largestBetween(near, phases));
      }
      return highest;
    },
  };
}

/** The largest absolute value between the samples of a block, given with a kernel's reach round it. */
function largestBetween(near: Float32Array, phases: readonly Float64Array[]): number {
  let largest = 0;
  for (const h of phases)
    for (let i = 0; i < block; i++) {
      let sum = 0;
      for (let k = 0; k < taps; k++) sum += h[k] * near[i + k];
      largest = Math.max(largest, Math.abs(sum));
    }
  return largest;
}

/** Blocks that are handed to the kernels at once. */
const blocksTogether = 256;

function fastScan(phases: readonly Float64Array[], kernel: Kernels): Scan {
  const { middle, rest } = boundOf(phases);
  const room = new KernelRoom(kernel);
  const span = blocksTogether * block;
  const x = room.place((span + 2 * taps) * 4);
  const y = room.place((blocksTogether + 2) * 4);
  const h = room.keep(phases.flatMap((phase) => [...phase]));
  const samples = room.floats(x, span + 2 * taps);
  const found = room.floats(y, blocksTogether + 2);
  return {
    largestInBlocks(channel) {
      const maxima = new Float32Array(Math.ceil(channel.length / block) + 4);
      for (let b = 0; b < maxima.length - 4; b += blocksTogether) {
        const part = channel.subarray(b * block, b * block + span);
        const blocks = Math.ceil(part.length / block);
        samples.set(part);
        samples.fill(0, part.length);
        kernel.blockMaxima(x, blocks, y);
        maxima.set(found.subarray(0, blocks), b + 2);
      }
      return maxima;
    },
    highest(channel, maxima, peak) {
      const source = sourceOf(channel);
      const first = x + taps * 4;
      let highest = peak;
      for (let b = -1; b < maxima.length - 3; b += blocksTogether) {
        const blocks = Math.min(blocksTogether, maxima.length - 3 - b);
        found.set(maxima.subarray(b + 1, b + 3 + blocks));
        source.read(samples, b * block - taps);
        highest = kernel.peakBetween(
          ...([first, y, blocks, h, taps, phases.length] as const),
          ...([middle, rest, highest] as const),
        );
      }
      return highest;
    },
  };
}
