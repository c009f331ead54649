import { type BeatEvidence, freshAt, gatherBeatEvidence, inferBeats } from '../hear/beats/beats.ts';
import type { Beat, Fix, Key, Loudness, Onset, Phrase, Tuning } from '../hear/heard.ts';
import { hearingSignal } from '../hear/hearing-signal.ts';
import { measureLoudness } from '../hear/loudness/loudness.ts';
import { hearAttacks } from '../hear/onsets/onsets.ts';
import { hearPhrases } from '../hear/phrases/phrases.ts';
import { hearKey } from '../hear/pitch/key.ts';
import { hearPartials } from '../hear/pitch/partials.ts';
import { hearTuning, tuningOf } from '../hear/pitch/tuning.ts';
import { median } from '../math/median.ts';
import type { Progress } from '../math/progress.ts';
import type { Bpm, Percent } from '../math/units.ts';
import type { Audio } from '../take/audio.ts';
import { type LevelCurve, levelCurve } from '../take/levels.ts';
import type { Slice } from './slice.ts';
import { suggestSlices } from './suggest.ts';

/** Everything heard in a take. Plain data: it may cross to another thread or be kept. */
export interface HeardTake {
  readonly onsets: readonly Onset[];
  /** What the beats were inferred from; infer again from it after a fix. */
  readonly evidence: BeatEvidence;
  readonly beats: readonly Beat[];
  readonly phrases: readonly Phrase[];
  readonly levels: LevelCurve;
  readonly tuning: Tuning;
  readonly key: Key;
  readonly loudness: Loudness;
  /** Tuning of each stem on its own: players of one group need not agree. */
  readonly stemTunings: readonly Tuning[];
}

/** Hears all there is to hear. `progress` is told after each stage; throw from it to stop. */
export function hearTake(
  audio: Audio,
  options: { stems?: readonly Audio[]; fixes?: readonly Fix[]; progress?: Progress } = {},
): HeardTake {
  const { stems = [], fixes = [], progress } = options;
  progress?.(0, 'hearing attacks');
  const sound = hearingSignal(audio);
  const { onsets, possible } = hearAttacks(
    audio,
    (share, doing) => progress?.(share * 0.4, doing),
    sound,
  );
  progress?.(0.4, 'hearing the beat');
  const evidence = gatherBeatEvidence(audio, possible, sound);
  const beats = inferBeats(evidence, fixes);
  progress?.(0.6, 'reading phrases');
  const partials = hearPartials(audio, undefined, undefined, sound);
  const phrases = hearPhrases(audio, onsets, partials, freshAt(evidence, onsets));
  progress?.(0.8, 'hearing pitch');
  const tuning = tuningOf(partials);
  const key = hearKey(audio, tuning, partials, phrases);
  const stemTunings = stems.map((stem) => hearTuning(stem));
  progress?.(0.9, 'measuring loudness');
  const levels = levelCurve(audio);
  const loudness = measureLoudness(audio);
  progress?.(1, 'heard');
  return { onsets, evidence, beats, phrases, levels, tuning, key, loudness, stemTunings };
}

/** The slices suggested for a take at a wish between few and many. */
export function slicesOf(
  heard: Pick<HeardTake, 'onsets' | 'phrases' | 'beats' | 'levels'>,
  cuts: Percent,
): Slice[] {
  const seconds = heard.levels.levels.length * heard.levels.hop;
  return suggestSlices({ ...heard, seconds }, cuts);
}

/** Tempo of the beats: median, slowest and fastest interval. Null where no beat was found. */
export function tempoOf(
  beats: readonly Beat[],
): { medianBpm: Bpm; minBpm: Bpm; maxBpm: Bpm } | null {
  if (beats.length < 2) return null;
  const intervals = beats.slice(1).map((beat, i) => beat.time - beats[i].time);
  return {
    medianBpm: 60 / median(intervals),
    minBpm: 60 / Math.max(...intervals),
    maxBpm: 60 / Math.min(...intervals),
  };
}
