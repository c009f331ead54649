import type { Source } from '../math/source.ts';
import { type Audio, lengthOf } from '../take/audio.ts';

/**
 * One channel that hears what every channel plays: the sum, with a channel that runs against the
 * loudest one turned over first, so that a wide or miswired stereo pair does not cancel itself.
 * Independent of the channels' order and, but for its sign, of their polarity.
 */
export function mixForHearing(audio: Audio): Source {
  const length = lengthOf(audio);
  const { channels } = audio;
  const gains = gainsFor(channels);
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

function mixInto(
  into: Float32Array,
  first: number,
  last: number,
  from: number,
  channels: readonly Float32Array[],
  gains: readonly number[],
): void {
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
}

function gainsFor(channels: readonly Float32Array[]): number[] {
  if (channels.length < 2) return channels.map(() => 1);
  const energies = channels.map((channel) => dot(channel, channel));
  const loudest = energies.indexOf(Math.max(...energies));
  return channels.map((channel, c) => {
    const against = dot(channel, channels[loudest]);
    const limit = -0.3 * Math.sqrt(energies[c] * energies[loudest]);
    return (against < limit ? -1 : 1) / channels.length;
  });
}

/** Of every sixteenth sample: it is only to tell which way round a channel is. */
function dot(a: Float32Array, b: Float32Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i += 16) sum += a[i] * b[i];
  return sum;
}
