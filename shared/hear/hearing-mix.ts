import { KernelRoom, type Kernels, ownKernels } from '../math/kernel.ts';
import type { Source } from '../math/source.ts';
import { type Audio, lengthOf } from '../take/audio.ts';

/**
 * One channel that hears what every channel plays: the sum, with a channel that runs against the
 * loudest one turned over first, so that a wide or miswired stereo pair does not cancel itself.
 * Independent of the channels' order and, but for its sign, of their polarity.
 *
 * @param kernel made by `ownKernels`, since it mixes while others work; null for the plain form
 */
export function mixForHearing(
  audio: Audio,
  kernel: Kernels | null = audio.channels.length === 2 ? mixingKernels() : null,
): Source {
  const length = lengthOf(audio);
  const { channels } = audio;
  const pair = channels.length === 2 ? kernel : null;
  const gains = pair ? gainsOfTwo(channels, pair) : gainsFor(channels);
  const mixInto = pair ? mixerOfTwo(pair) : mixPlainly;
  return {
    length,
    read(into, from) {
      const first = Math.min(into.length, Math.max(0, -from));
      const last = Math.max(first, Math.min(into.length, length - from));
      into.fill(0, 0, first);
      if (last > first) mixInto(into, first, last, from, channels, gains);
      into.fill(0, last);
    },
  };
}

let own: Kernels | null | undefined;

function mixingKernels(): Kernels | null {
  own ??= ownKernels();
  return own;
}

/** Fills `into` from `first` to `last` with the mix of what stands `from` samples further on. */
type Mixer = (
  into: Float32Array,
  first: number,
  last: number,
  from: number,
  channels: readonly Float32Array[],
  gains: readonly number[],
) => void;

/** Samples that are mixed at once. */
const together = 8192;

/** Two channels by a kernel. */
function mixerOfTwo(kernel: Kernels): Mixer {
  const room = new KernelRoom(kernel);
  const [a, b, out] = [0, 1, 2].map(() => room.place(together * 4));
  const [left, right, mix] = [a, b, out].map((place) => room.floats(place, together));
  return (into, first, last, from, channels, gains) => {
    for (let at = first; at < last; at += together) {
      const until = Math.min(last, at + together);
      left.set(channels[0].subarray(from + at, from + until));
      right.set(channels[1].subarray(from + at, from + until));
      kernel.mixed(a, b, gains[0], gains[1], until - at, out);
      into.set(mix.subarray(0, until - at), at);
    }
  };
}

const mixPlainly: Mixer = (into, first, last, from, channels, gains) => {
  if (channels.length === 1) into.set(channels[0].subarray(from + first, from + last), first);
  else if (channels.length === 2) {
    const [a, b] = channels;
    const [p, q] = gains;
    for (let i = first; i < last; i++) into[i] = p * a[from + i] + q * b[from + i];
  } else {
    into.fill(0, first, last);
    channels.forEach((channel, c) => {
      for (let i = first; i < last; i++) into[i] += gains[c] * channel[from + i];
    });
  }
};

function gainsFor(channels: readonly Float32Array[]): number[] {
  if (channels.length < 2) return channels.map(() => 1);
  const energies = channels.map((channel) => dot(channel, channel));
  const loudest = energies.indexOf(Math.max(...energies));
  return channels.map((channel, c) => {
    const against = c === loudest ? energies[c] : dot(channel, channels[loudest]);
    const limit = -0.3 * Math.sqrt(energies[c] * energies[loudest]);
    return (against < limit ? -1 : 1) / channels.length;
  });
}

/** The same of two channels by a kernel. */
function gainsOfTwo([a, b]: readonly Float32Array[], kernel: Kernels): number[] {
  const room = new KernelRoom(kernel);
  const [left, right] = [0, 1].map(() => room.place(together * 4));
  const out = room.keepDoubles([0, 0, 0]);
  const views = [left, right].map((place) => room.floats(place, together));
  for (let at = 0; at < a.length; at += together) {
    views[0].set(a.subarray(at, at + together));
    views[1].set(b.subarray(at, at + together));
    kernel.together(left, right, Math.min(together, a.length - at), EVERY, out);
  }
  const [aa, bb, ab] = room.doubles(out, 3);
  const other = ab < -0.3 * Math.sqrt(aa * bb) ? -0.5 : 0.5;
  return bb > aa ? [other, 0.5] : [0.5, other];
}

/** Of every sixteenth sample: it is only to tell which way round a channel is. */
const EVERY = 16;

function dot(a: Float32Array, b: Float32Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i += EVERY) sum += a[i] * b[i];
  return sum;
}
