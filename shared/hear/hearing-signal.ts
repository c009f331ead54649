import { type Source, sourceOf } from '../math/source.ts';
import type { Hertz } from '../math/units.ts';
import type { Audio } from '../take/audio.ts';
import { ANALYSIS_RATE, resample } from './analysis-rate.ts';
import { mixForHearing } from './hearing-mix.ts';

/** What every listener hears: one mix of a recording's channels, at the rates at which each works. */
export interface HearingSignal {
  readonly rate: Hertz;
  /** At the recording's own rate; mixed as it is read. */
  readonly mix: Source;
  /** At `ANALYSIS_RATE`. */
  readonly whole: Float32Array;
  /** At half of `ANALYSIS_RATE`, and at a quarter. */
  readonly half: Float32Array;
  readonly quarter: Float32Array;
  /** Whether nothing sounds at all. */
  readonly silent: boolean;
}

/** A recording's mix at `ANALYSIS_RATE` alone. */
export function atAnalysisRate(audio: Audio, mix: Source = mixForHearing(audio)): Float32Array {
  return resample(mix, Math.round(audio.sampleRate), ANALYSIS_RATE);
}

/** Mixes a recording and makes it ready for every listener; made once, it saves each of them the work. */
export function hearingSignal(audio: Audio): HearingSignal {
  const mix = mixForHearing(audio);
  const whole = atAnalysisRate(audio, mix);
  const half = resample(sourceOf(whole), 2, 1);
  const quarter = resample(sourceOf(half), 2, 1);
  const silent = !audio.channels.some((channel) => channel.some((sample) => sample !== 0));
  return { rate: audio.sampleRate, mix, whole, half, quarter, silent };
}
