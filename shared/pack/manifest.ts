import type { Beat, Key, Tuning } from '../hear/heard.ts';
import type { LaneLanding, LaneRatio } from '../loop/material.ts';
import type { SeamReport } from '../loop/seam.ts';
import type { Bpm, Cents, Decibels, Hertz, Percent, Samples, Seconds } from '../math/units.ts';

/** Loudness as JSON can say it: silence has none. */
export interface StatedLoudness {
  readonly integrated: Decibels | null;
  readonly range: Decibels | null;
  readonly truePeak: Decibels | null;
}

/** A sound file of the pack. Paths are relative to the manifest. */
export interface StatedFile {
  readonly file: string;
  /** `mix`, or the stem's label. */
  readonly part: string;
  readonly variant: string | null;
  readonly sampleRate: Hertz;
  readonly channels: number;
  readonly samples: Samples;
  /** As stored: 16, 24, `32f` and so on. */
  readonly bits: string;
}

export interface StatedRecording extends StatedFile {
  /** SHA-256 of the file. */
  readonly hash: string;
}

export interface StatedStem extends StatedRecording {
  /** Its own tuning: players of one group need not agree. Null where it was not heard. */
  readonly tuning: Tuning | null;
}

export interface StatedLoopFile extends StatedFile {
  readonly loudness: StatedLoudness;
}

export interface StatedLane {
  readonly name: string;
  readonly kind: 'straight' | 'flip';
  readonly bars: number;
  readonly beatsPerBar: number;
  readonly beatUnit: number;
  readonly bpm: Bpm;
  readonly steady: Percent;
  readonly tighten: Percent;
  readonly grid: string;
  readonly swing: Percent;
  readonly seam: SeamReport;
  /** What mix and stems were turned up or down by, to be as loud as was wished. */
  readonly gain: Decibels;
  readonly landings: readonly LaneLanding[];
  readonly ratios: readonly LaneRatio[];
  readonly files: readonly StatedLoopFile[];
  /** Plays the slices' files by their notes. */
  readonly midi: string;
}

export interface StatedSlice {
  readonly id: string;
  readonly line: number;
  readonly place: number;
  readonly start: Seconds;
  readonly landing: Seconds;
  readonly end: Seconds;
  /** The note that plays it in the lanes' MIDI files. */
  readonly midiNote: number | null;
  /** What it sounds, where it has one pitch: cents from the note at A4 = 440 Hz. */
  readonly pitch: {
    readonly note: number;
    readonly name: string;
    readonly cents: Cents;
    readonly hertz: Hertz;
  } | null;
  readonly files: readonly StatedFile[];
}

/** `manifest.json`: what lies in a pack, for programs. Its schema lies beside it. */
export interface Manifest {
  readonly $schema: string;
  readonly version: 1;
  readonly madeWith: string;
  readonly name: string;
  /** ISO 8601. */
  readonly changed: string;
  /** The MIDI standard numbers no octaves, so this says it. */
  readonly middleC: 'C4 (60)';
  readonly artist: string | null;
  /** As the maker types them. */
  readonly credits: string | null;
  readonly terms: string | null;
  readonly take: StatedRecording & {
    readonly loudness: StatedLoudness;
    readonly tuning: Tuning;
    readonly key: Key;
  };
  readonly stems: readonly StatedStem[];
  readonly tempoMap: {
    readonly file: string;
    readonly beatsFile: string;
    readonly clickFile: string;
  };
  readonly beats: readonly Beat[];
  readonly lanes: readonly StatedLane[];
  readonly slices: readonly StatedSlice[];
  readonly warnings: readonly string[];
}

/** Loudness for JSON, to a hundredth. */
export function stated(loudness: {
  readonly integrated: Decibels;
  readonly range: Decibels;
  readonly truePeak: Decibels;
}): StatedLoudness {
  const round = (value: number) => (Number.isFinite(value) ? Math.round(value * 100) / 100 : null);
  return {
    integrated: round(loudness.integrated),
    range: round(loudness.range),
    truePeak: round(loudness.truePeak),
  };
}
