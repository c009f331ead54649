import type { Seconds } from '../../math/units.ts';
import { type Audio, secondsOf } from '../../take/audio.ts';
import type { Onset } from '../heard.ts';
import { hearingSignal } from '../hearing-signal.ts';
import { CUES } from './cues.ts';
import { BAND_EDGES, type BeatFeatures, measureFeatures } from './features.ts';

/**
 * All that beats are inferred from, made once for each take: plain arrays, one row an onset.
 */
export interface BeatEvidence {
  /** Length of the take. */
  readonly seconds: Seconds;
  readonly times: Float64Array;
  /**
   * How clearly the onsets are attacks: mean rise over all bands (natural log of power), which one in
   * five exceeds. Noise gives about 0.35, soft playing 0.6 and more.
   */
  readonly clarity: number;
  /** `CUES` numbers an onset (`CUE_NAMES` says which), each with mean 0 and spread 1 within 4 s on either side. */
  readonly cues: Float64Array;
  /** Twelve pitch classes an onset that begin there. */
  readonly fresh: Float64Array;
}

const NEIGHBOURHOOD = 4;

/** Measures at each onset what tells beats from other notes. */
export function gatherBeatEvidence(
  audio: Audio,
  onsets: readonly Onset[],
  sound = hearingSignal(audio),
): BeatEvidence {
  return evidenceFrom(secondsOf(audio), onsets, measureFeatures(audio, onsets, sound));
}

/** Pitch classes that begin at some of the onsets that beats were inferred from. */
export function freshAt(
  { times, fresh }: BeatEvidence,
  onsets: readonly Onset[],
): Pick<BeatEvidence, 'times' | 'fresh'> {
  const wanted = new Set(onsets.map((onset) => onset.time));
  const kept = [...times.keys()].filter((i) => wanted.has(times[i]));
  return {
    times: Float64Array.from(kept, (i) => times[i]),
    fresh: Float64Array.from(kept.flatMap((i) => [...fresh.subarray(i * 12, (i + 1) * 12)])),
  };
}

/** The same from what was measured at each onset of a take of that length. */
export function evidenceFrom(
  seconds: Seconds,
  onsets: readonly Onset[],
  { rise, energy, fresh, chroma }: BeatFeatures,
): BeatEvidence {
  const n = onsets.length;
  const times = Float64Array.from(onsets, (onset) => onset.time);
  const bands = BAND_EDGES.length;
  const raw = new Float64Array(n * CUES);
  const bass = Float64Array.from(times, (_, i) => rise[i * bands] + 0.5 * rise[i * bands + 1]);
  for (let i = 0; i < n; i++) {
    const at = (b: number) => rise[i * bands + b];
    let rising = 0;
    for (let b = 0; b < bands; b++) if (at(b) > 0.7) rising++;
    const next = i + 1 < n ? times[i + 1] - times[i] : 2;
    const last = i > 0 ? times[i] - times[i - 1] : 2;
    let same = 0;
    if (i > 0) for (let c = 0; c < 12; c++) same += chroma[i * 12 + c] * chroma[(i - 1) * 12 + c];
    raw.set(
      [
        Math.log1p(at(0)),
        Math.log1p(at(1) + at(2)),
        Math.log1p(at(3) + at(4)),
        Math.log1p(at(5) + at(6) + at(7)),
        Math.log1p(energy[i]),
        rising,
        onsets[i].strength,
        1 - same,
        Math.log(Math.min(2, Math.max(0.03, next))),
        Math.log(Math.min(2, Math.max(0.03, last))),
        Math.tanh(bass[i] - (i + 1 < n ? bass[i + 1] : 0)),
        Math.tanh(bass[i] - (i > 0 ? bass[i - 1] : 0)),
        Math.tanh(energy[i] - (i + 1 < n ? energy[i + 1] : 0)),
        Math.tanh(energy[i] - (i > 0 ? energy[i - 1] : 0)),
      ],
      i * CUES,
    );
  }
  return {
    seconds,
    times,
    clarity: clarityOf(rise, n),
    cues: normalised(raw, times),
    fresh,
  };
}

function clarityOf(rise: Float64Array, n: number): number {
  const bands = BAND_EDGES.length;
  const means = Array.from({ length: n }, (_, i) => {
    let sum = 0;
    for (let b = 0; b < bands; b++) sum += Math.min(4, rise[i * bands + b]);
    return sum / bands;
  }).sort((a, b) => a - b);
  return means[Math.floor((n - 1) * 0.8)] ?? 0;
}

/** Takes from every cue its mean and divides by its spread within `NEIGHBOURHOOD` on either side. */
function normalised(raw: Float64Array, times: Float64Array): Float64Array {
  const n = times.length;
  const out = new Float64Array(raw.length);
  const sum = new Float64Array(CUES);
  const square = new Float64Array(CUES);
  let from = 0;
  let until = 0;
  for (let i = 0; i < n; i++) {
    for (; until < n && times[until] <= times[i] + NEIGHBOURHOOD; until++)
      for (let c = 0; c < CUES; c++) {
        sum[c] += raw[until * CUES + c];
        square[c] += raw[until * CUES + c] ** 2;
      }
    for (; times[from] < times[i] - NEIGHBOURHOOD; from++)
      for (let c = 0; c < CUES; c++) {
        sum[c] -= raw[from * CUES + c];
        square[c] -= raw[from * CUES + c] ** 2;
      }
    const count = until - from;
    for (let c = 0; c < CUES; c++) {
      const mean = sum[c] / count;
      const spread = Math.sqrt(Math.max(0, square[c] / count - mean * mean));
      out[i * CUES + c] = (raw[i * CUES + c] - mean) / (spread + 0.15);
    }
  }
  return out;
}
