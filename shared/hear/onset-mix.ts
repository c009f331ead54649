import type { Audio } from '../take/audio.ts';
import { lengthOf } from '../take/audio.ts';

/**
 * One channel that hears what every channel plays: the sum, with a channel that runs against the
 * loudest one turned over first, so that a wide or miswired stereo pair does not cancel itself.
 * Independent of the channels' order and, but for its sign, of their polarity.
 */
export function mixForHearing(audio: Audio): Float32Array {
  const length = lengthOf(audio);
  const { channels } = audio;
  if (channels.length === 1) return channels[0];
  const mix = new Float32Array(length);
  if (channels.length === 0) return mix;
  const energies = channels.map((channel) => dot(channel, channel));
  const loudest = energies.indexOf(Math.max(...energies));
  channels.forEach((channel, c) => {
    const against = dot(channel, channels[loudest]);
    const limit = -0.3 * Math.sqrt(energies[c] * energies[loudest]);
    const gain = (against < limit ? -1 : 1) / channels.length;
    for (let i = 0; i < length; i++) mix[i] += gain * channel[i];
  });
  return mix;
}

/** Of every sixteenth sample: it is only to tell which way round a channel is. */
function dot(a: Float32Array, b: Float32Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i += 16) sum += a[i] * b[i];
  return sum;
}
