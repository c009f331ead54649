import type { Decibels } from '../../math/units.ts';
import { type Audio, lengthOf } from '../../take/audio.ts';
import type { Loudness } from '../heard.ts';
import { weightedEnergies } from './k-weighting.ts';
import { truePeak } from './true-peak.ts';

/** Every loudness figure of EBU R 128: LUFS, LU and dBTP. Silence is negative infinity. */
export interface LoudnessInFull extends Loudness {
  readonly maxMomentary: Decibels;
  readonly maxShortTerm: Decibels;
}

/** Weighted energy in slots of 10 ms, as running sums: a window of any length is one difference. */
interface Energies {
  readonly sums: Float64Array;
  readonly edges: Float64Array;
}

const slotsPerSecond = 100;
const momentary = 40;
const shortTerm = 300;
const hop = 10;
const absoluteGate = -70;

function energiesOf(audio: Audio): Energies {
  const { sampleRate } = audio;
  const count = Math.floor((lengthOf(audio) / sampleRate) * slotsPerSecond + 1e-9);
  const edges = Float64Array.from({ length: count + 1 }, (_, i) =>
    Math.round((i * sampleRate) / slotsPerSecond),
  );
  const energies = weightedEnergies(audio, edges);
  const sums = new Float64Array(count + 1);
  for (let i = 0; i < count; i++) sums[i + 1] = sums[i] + energies[i];
  return { sums, edges };
}

function level(meanSquare: number): Decibels {
  return -0.691 + 10 * Math.log10(meanSquare);
}

/** Mean squares of all windows of `size` slots, `step` slots apart; those that fit wholly. */
function windows({ sums, edges }: Energies, size: number, step: number): Float64Array {
  const count = Math.max(0, Math.floor((sums.length - 1 - size) / step) + 1);
  return Float64Array.from({ length: count }, (_, w) => {
    const from = w * step;
    // The difference of two running sums can fall below nothing by a rounding.
    return Math.max(0, sums[from + size] - sums[from]) / (edges[from + size] - edges[from]);
  });
}

function mean(values: Float64Array): number {
  return values.length === 0 ? 0 : values.reduce((sum, v) => sum + v, 0) / values.length;
}

function above(values: Float64Array, gate: Decibels): Float64Array {
  return values.filter((v) => level(v) > gate);
}

/** BS.1770-4: blocks of 400 ms, overlapping by three quarters, gated at -70 LUFS, then 10 LU below what is left. */
function integrated(energies: Energies): Decibels {
  const blocks = windows(energies, momentary, hop);
  if (blocks.length === 0) {
    // Shorter than one block: the standard says nothing, so the sound as a whole is the block.
    const slots = energies.sums.length - 1;
    return slots === 0 ? Number.NEGATIVE_INFINITY : level(windows(energies, slots, 1)[0]);
  }
  const loud = above(blocks, absoluteGate);
  return level(mean(above(loud, level(mean(loud)) - 10)));
}

/** EBU Tech 3342: from the 10th to the 95th percentile of short-term loudness, gated at -70 LUFS and -20 LU. */
function range(shortTerms: Float64Array): Decibels {
  const loud = above(shortTerms, absoluteGate);
  const kept = above(loud, level(mean(loud)) - 20).sort();
  if (kept.length === 0) return 0;
  const at = (share: number) => level(kept[Math.round((kept.length - 1) * share)]);
  return at(0.95) - at(0.1);
}

/**
 * Loudness by ITU-R BS.1770-4 and EBU Tech 3341 and 3342. Sounds shorter than 400 ms are one block;
 * shorter than 3 s they have a range of 0 and the short-term loudness of the whole.
 */
export function measureLoudnessInFull(audio: Audio): LoudnessInFull {
  const energies = energiesOf(audio);
  const slots = energies.sums.length - 1;
  const max = (size: number) => {
    const all = windows(energies, Math.min(size, slots), 1);
    return slots === 0 ? Number.NEGATIVE_INFINITY : level(all.reduce((a, b) => Math.max(a, b), 0));
  };
  return {
    integrated: integrated(energies),
    range: range(windows(energies, shortTerm, hop)),
    truePeak: 20 * Math.log10(truePeak(audio)),
    maxMomentary: max(momentary),
    maxShortTerm: max(shortTerm),
  };
}

/** Integrated loudness, range and true peak; see `measureLoudnessInFull`. */
export function measureLoudness(audio: Audio): Loudness {
  const { integrated, range, truePeak } = measureLoudnessInFull(audio);
  return { integrated, range, truePeak };
}
