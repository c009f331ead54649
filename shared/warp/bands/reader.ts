import { InputError } from '../../math/input-error.ts';
import type { Hertz, Samples } from '../../math/units.ts';
import { type Audio, lengthOf } from '../../take/audio.ts';

/** Channels of one length that are read a stretch at a time. */
export interface Reader {
  readonly sampleRate: Hertz;
  readonly length: Samples;
  readonly channels: number;
  /** A channel's samples from `first` on, as many as `to` holds; silence where there are none. */
  read(channel: number, first: Samples, to: Float32Array): void;
}

export function readerOf(audio: Audio): Reader {
  return {
    sampleRate: audio.sampleRate,
    length: lengthOf(audio),
    channels: audio.channels.length,
    read: (channel, first, to) => {
      const from = audio.channels[channel];
      const start = Math.min(to.length, Math.max(0, -first));
      const end = Math.max(start, Math.min(to.length, (from?.length ?? 0) - first));
      if (from) to.set(from.subarray(first + start, first + end), start);
      to.fill(0, 0, start);
      to.fill(0, end);
    },
  };
}

/**
 * Parts of one performance as their sum, with as many channels as the widest of them: a mono part sounds
 * on all, any other on the first ones. Throws InputError where they differ in rate or length.
 */
export function readerOfSum(parts: readonly Audio[]): Reader {
  const { sampleRate } = parts[0];
  const length = lengthOf(parts[0]);
  for (const part of parts) {
    if (part.sampleRate !== sampleRate)
      throw new InputError(
        `Parts of one performance have ${sampleRate} and ${part.sampleRate} samples a second; bring them to one rate.`,
      );
    if (lengthOf(part) !== length)
      throw new InputError(
        'Parts of one performance differ in length; export them from one timeline.',
      );
  }
  if (parts.length === 1) return readerOf(parts[0]);
  let sums = new Float64Array(0);
  const channels = parts.reduce((most, part) => Math.max(most, part.channels.length), 0);
  return {
    sampleRate,
    length,
    channels,
    read: (channel, first, to) => {
      if (sums.length < to.length) sums = new Float64Array(to.length);
      const sum = sums.subarray(0, to.length).fill(0);
      for (const part of parts) {
        const mono = part.channels.length === 1 && channel < channels;
        add(part.channels[mono ? 0 : channel], first, sum);
      }
      // As a mix of these parts would be stored, so that both are decided alike.
      to.set(sum);
    },
  };
}

function add(from: Float32Array | undefined, first: Samples, to: Float64Array): void {
  if (!from) return;
  const start = Math.max(0, -first);
  const end = Math.min(to.length, from.length - first);
  for (let i = start, j = first + start; i < end; i++, j++) to[i] += from[j];
}
