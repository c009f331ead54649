import type { Progress } from '../math/progress.ts';
import { readAtSpeed } from '../math/resample.ts';
import type { Cents, Semitones } from '../math/units.ts';
import { type Audio, lengthOf } from '../take/audio.ts';
import { makeTimeMap } from '../time/time-map.ts';
import { keepFormants } from './formants.ts';
import { warpMoments } from './warp.ts';

/** How far a pitch moves; `formants` says whether the timbre's resonances stay or move along. */
export interface PitchShift {
  readonly semitones: Semitones;
  readonly cents: Cents;
  readonly formants: 'kept' | 'moved';
}

/**
 * The inputs at another pitch, as long as before and with every attack where it was: a warp by one
 * ratio, read back at another speed. As with `warp` the inputs are parts of one performance and share
 * every decision. No shift gives copies, bit for bit.
 */
export function shiftPitch(
  inputs: readonly Audio[],
  shift: PitchShift,
  progress?: Progress,
): Audio[] {
  const ratio = 2 ** ((shift.semitones + shift.cents / 100) / 12);
  if (inputs.length === 0) return [];
  const length = lengthOf(inputs[0]);
  const { sampleRate } = inputs[0];
  if (ratio === 1 || length === 0)
    return inputs.map((input) => ({ sampleRate, channels: input.channels.map((c) => c.slice()) }));
  const seconds = length / sampleRate;
  const map = makeTimeMap([
    { from: 0, to: 0 },
    { from: seconds, to: seconds * ratio },
  ]);
  const stretched = warpMoments(inputs, map, Math.round(length * ratio), 'heard', progress);
  const shifted = stretched.map((audio) => ({
    sampleRate,
    channels: audio.channels.map((channel) => readAtSpeed(channel, 0, ratio, length)),
  }));
  return shift.formants === 'kept' ? keepFormants(shifted, inputs, ratio) : shifted;
}
