import { bandPowers, classMagnitudes } from '../../math/power-spectra.ts';
import { sourceOf } from '../../math/source.ts';
import { type Audio, lengthOf } from '../../take/audio.ts';
import { ANALYSIS_RATE } from '../analysis-rate.ts';
import type { Onset } from '../heard.ts';
import { type HearingSignal, hearingSignal } from '../hearing-signal.ts';

/** Upper edges of the bands in which an onset's rise is measured, in Hz; the first begins at 30 Hz. */
export const BAND_EDGES = [110, 220, 440, 880, 1760, 3520, 7040, 14080] as const;
const LOWEST = 30;
/** Level under which a band counts as silent, relative to the take's own level. */
const FLOOR = 1e-3;

/**
 * What the sound does at each onset, one row an onset: rise in `BAND_EDGES.length` bands (natural
 * log of power after over power before, 0 and more), energy rise over all bands, and the twelve
 * pitch classes that are new and that sound. Nothing depends on the take's gain.
 */
export interface BeatFeatures {
  readonly rise: Float64Array;
  readonly energy: Float64Array;
  /** Pitch classes that begin here, each row scaled to length 1 (or all 0). */
  readonly fresh: Float64Array;
  /** Pitch classes that sound after the onset, each row scaled to length 1 (or all 0). */
  readonly chroma: Float64Array;
}

/** Pitch class (0 to 11, C is 0) of each bin up to 2200 Hz, -1 for those below 55 Hz. */
function pitchClasses(size: number, rate: number): Int8Array {
  return Int8Array.from({ length: Math.floor((2200 * size) / rate) + 1 }, (_, k) => {
    const hertz = (k * rate) / size;
    if (hertz < 55) return -1;
    return ((Math.round(12 * Math.log2(hertz / 440)) % 12) + 21) % 12;
  });
}

function scaleRow(rows: Float64Array, row: number): void {
  let sum = 0;
  for (let c = 0; c < 12; c++) sum += rows[row * 12 + c] ** 2;
  if (sum > 0) for (let c = 0; c < 12; c++) rows[row * 12 + c] /= Math.sqrt(sum);
}

/** What is long in the spectrum of pitch classes: at half the analysis rate nothing of use is lost. */
const CLASS_RATE = ANALYSIS_RATE / 2;
const CLASS_SIZE = 1024;

/** Measures the sound around each onset; see `BeatFeatures`. */
export function measureFeatures(
  audio: Audio,
  onsets: readonly Onset[],
  sound: Pick<HearingSignal, 'mix' | 'half'> = hearingSignal(audio),
): BeatFeatures {
  const { sampleRate } = audio;
  const bandCount = BAND_EDGES.length;
  const rise = new Float64Array(onsets.length * bandCount);
  const energy = new Float64Array(onsets.length);
  const fresh = new Float64Array(onsets.length * 12);
  const chroma = new Float64Array(onsets.length * 12);
  if (lengthOf(audio) === 0 || onsets.length === 0) return { rise, energy, fresh, chroma };

  // Two spectra an onset: of what was before and of what is after.
  const size = 2 ** Math.round(Math.log2(sampleRate * 0.046));
  const edges = [LOWEST, ...BAND_EDGES].map((hertz) =>
    Math.min(size / 2 + 1, Math.ceil((hertz * size) / sampleRate)),
  );
  const starts = onsets.flatMap(({ time }) => {
    const at = Math.round(time * sampleRate);
    return [at - size, at - Math.round(0.004 * sampleRate)];
  });
  const powers = bandPowers(sound.mix, starts, size, edges);
  const before = (i: number, b: number) => powers[2 * i * bandCount + b];
  const after = (i: number, b: number) => powers[(2 * i + 1) * bandCount + b];

  const classOf = pitchClasses(CLASS_SIZE, CLASS_RATE);
  const classStarts = onsets.flatMap(({ time }) => {
    const at = Math.round(time * CLASS_RATE);
    return [at - CLASS_SIZE, at];
  });
  const classes = classMagnitudes(sourceOf(sound.half), classStarts, CLASS_SIZE, classOf, 12);
  for (let i = 0; i < onsets.length; i++) {
    for (let c = 0; c < 12; c++) {
      const is = classes[(2 * i + 1) * 12 + c];
      chroma[i * 12 + c] = is;
      fresh[i * 12 + c] = Math.max(0, is - classes[2 * i * 12 + c]);
    }
    scaleRow(fresh, i);
    scaleRow(chroma, i);
  }
  let level = 0;
  const all = onsets.length * bandCount;
  for (let i = 0; i < onsets.length; i++)
    for (let b = 0; b < bandCount; b++) level += after(i, b) / all;
  const floor = level * FLOOR || Number.MIN_VALUE;
  for (let i = 0; i < onsets.length; i++) {
    let sumBefore = 0;
    let sumAfter = 0;
    for (let b = 0; b < bandCount; b++) {
      const x = before(i, b);
      const y = after(i, b);
      rise[i * bandCount + b] = Math.max(0, Math.log((y + floor) / (x + floor)));
      sumBefore += x;
      sumAfter += y;
    }
    energy[i] = Math.max(0, Math.log((sumAfter + floor) / (sumBefore + floor)));
  }
  return { rise, energy, fresh, chroma };
}
