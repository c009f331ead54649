import type { Accessor } from 'solid-js';
import type { Pad } from '../../shared/cut/pad.ts';
import type { Slice } from '../../shared/cut/slice.ts';
import type { Beat, Onset } from '../../shared/hear/heard.ts';
import type { Lane } from '../../shared/loop/lane.ts';
import type { Decibels, Seconds } from '../../shared/math/units.ts';
import type { Audio } from '../../shared/take/audio.ts';
import type { PadPlace } from '../store/pad-commands.ts';
import type { TakePass } from './recorder.ts';

/**
 * Everything that is heard. One thing plays at a time (the take, the loop or the comparison of both);
 * pads and single slices sound over it. Positions are read once a frame by whoever draws them.
 * Call `wake` inside every gesture: browsers let sound start, and start again, only there.
 */
export interface Sound {
  readonly state: Accessor<SoundState>;
  readonly wake: () => Promise<void>;
  readonly playing: Accessor<Playing>;
  readonly stop: () => void;

  /** Listening level, 0 dB at most. Starts quiet; only this call makes it louder. */
  readonly level: Accessor<Decibels>;
  readonly setLevel: (level: Decibels) => void;
  /** Highest peak put out since it was last read, in dBFS (-Infinity for silence). */
  readonly readPeak: () => Decibels;

  /** The recording that take, slices and pads are heard from; null for none. */
  readonly setTake: (take: SoundSource | null) => void;
  /** Which stems are silent, which alone are heard; by hash. Works on what sounds already. */
  readonly setStems: (muted: readonly string[], solo: readonly string[]) => void;
  /** Plays the take from a moment; to `until`, or round and round between both with `round`. */
  readonly playTake: (stretch?: Stretch) => Promise<void>;
  /** The moment of the take that is heard now; null when it isn't playing. */
  readonly takeTime: () => Seconds | null;
  /** The moment of the take that was heard at a moment of an event (`event.timeStamp`), less the measured latency. */
  readonly takeTimeAt: (timeStamp: number) => Seconds | null;

  readonly playSlice: (slice: Slice, id?: string) => Promise<void>;
  /** `velocity` 0 to 1. Sounds at the very next block once sound is awake. */
  readonly pressPad: (pad: Pad, slice: Slice, velocity?: number, timeStamp?: number) => void;
  readonly releasePad: (place: PadPlace) => void;
  /** The sound of a pad as its pitch was rendered for a slice; without it pitch is moved by speed. */
  readonly setPadSound: (pad: Pad, slice: Slice, sound: SoundSource | null) => void;
  /** The attacks that were heard in the take: a slice that lands on none of them is faded in, or it would click. */
  readonly setOnsets: (onsets: readonly Onset[]) => void;
  /** Ids of slices that sound now on pads or by themselves, and places of the pads that do. */
  readonly sounding: Accessor<Sounding>;

  /**
   * The loop that is heard. A new one takes over in place, at the same position, without a gap. Where there is
   * none what plays of it falls silent, unless another is `awaited`.
   */
  readonly setLoop: (loop: LoopSource | null, awaited?: boolean) => void;
  readonly playLoop: (options?: { readonly from?: Seconds }) => Promise<void>;
  /** Plays the last beat into the first, round and round. */
  readonly playSeam: () => Promise<void>;
  /** The moment of the loop that is heard now; null when it isn't playing. */
  readonly loopTime: () => Seconds | null;

  /** A/B: original and loop at matched loudness; the louder one is turned down. */
  readonly compare: (side?: 'original' | 'loop') => Promise<void>;
  readonly side: Accessor<'original' | 'loop'>;
  readonly matched: Accessor<Matched | null>;

  /** A plain kick, hat or click under the loop. */
  readonly plainBeat: Accessor<PlainBeat>;
  readonly setPlainBeat: (beat: PlainBeat) => void;
  /** A click at each beat of the take while it plays. */
  readonly takeClick: Accessor<boolean>;
  readonly setTakeClick: (on: boolean, beats?: readonly Beat[]) => void;

  /** Counts one bar in, then takes down what is played on the pads against the loop, pass by pass. */
  readonly record: (options: RecordOptions) => Promise<void>;
  readonly recording: Accessor<'no' | 'counting in' | 'yes'>;

  /** Measures how late taps arrive: clicks are heard, `tapLatency` is called with each tap's `event.timeStamp`; the result is kept in the settings. */
  readonly testLatency: () => Promise<void>;
  readonly tapLatency: (timeStamp: number) => void;
  readonly latencyTest: Accessor<LatencyTest | null>;
}

/** `no way out`: it was asked to run and does not, as where no loudspeaker is connected. */
export type SoundState =
  | 'asleep'
  | 'starting'
  | 'running'
  | 'stopped by the system'
  | 'no way out'
  | 'failed';
/** How a latency test stands; `latency` once it is known. */
export interface LatencyTest {
  readonly taps: number;
  readonly wanted: number;
  readonly latency: Seconds | null;
}

export type Playing = 'nothing' | 'take' | 'loop' | 'seam' | 'comparison' | 'latency test';

export interface SoundSource {
  readonly mix: Audio;
  readonly stems: readonly { readonly hash: string; readonly audio: Audio }[];
}

export interface LoopSource extends SoundSource {
  readonly lane: Lane;
  /** LUFS of the loop. */
  readonly loudness: Decibels;
  /** What it is compared with, and its LUFS. */
  readonly original: Stretch & { readonly loudness: Decibels };
}

export interface Stretch {
  readonly from?: Seconds;
  readonly until?: Seconds;
  readonly round?: boolean;
}

export interface Sounding {
  readonly slices: readonly string[];
  readonly pads: readonly PadPlace[];
}

/** Loudness of both sides (LUFS) and what is taken off each (dB, 0 or less). */
export interface Matched {
  readonly original: Decibels;
  readonly loop: Decibels;
  readonly originalBy: Decibels;
  readonly loopBy: Decibels;
}

export interface PlainBeat {
  readonly kick: boolean;
  readonly hat: boolean;
  readonly click: boolean;
}

export interface RecordOptions {
  readonly lane: Lane;
  /** Bars counted in first. @default 1 */
  readonly countIn?: number;
  /** Called at the end of each pass with what was played in it and how far it went, in beats. */
  readonly pass: TakePass;
}
