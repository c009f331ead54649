import type { Cents, Samples, Seconds } from '../../shared/math/units.ts';
import { type Audio, lengthOf } from '../../shared/take/audio.ts';
import { attackDelays, firstAudible, hasFluid, renderFluid } from './fluid.ts';
import type { Instrument } from './instruments.ts';
import { dry, type Place, peakOf, putInto } from './place.ts';
import type { Performance, PlayedNote } from './played.ts';
import { plainNote, renderPlain } from './synthesis.ts';
import {
  type Kind,
  mergeAttacks,
  softAlone,
  type TrueNote,
  type Truth,
  tonicName,
} from './truth.ts';

export interface Session {
  readonly name: string;
  readonly kind: Kind;
  readonly seed: number;
  readonly performance: Performance;
  readonly cents: Cents;
  readonly place: Place;
  /** Sampled sounds where fluidsynth is installed; else, and when false, our own synthesis. */
  readonly sampled: boolean;
}

const delays = new Map<string, Samples>();

/** Delays of each instrument's attack at each pitch, measured once on lone notes. */
function measureDelays(notes: readonly PlayedNote[], sampled: boolean): void {
  const wanted = new Map<Instrument, Set<number>>();
  for (const { instrument, pitch } of notes) {
    if (delays.has(delayKey(instrument, pitch, sampled))) continue;
    const pitches = wanted.get(instrument) ?? new Set();
    wanted.set(instrument, pitches.add(pitch));
  }
  for (const [instrument, pitches] of wanted) {
    const list = [...pitches];
    const found = sampled ? attackDelays(instrument, list) : plainDelays(instrument, list);
    for (const [pitch, delay] of found) delays.set(delayKey(instrument, pitch, sampled), delay);
  }
}

function delayKey(instrument: Instrument, pitch: number, sampled: boolean): string {
  return `${sampled} ${instrument.name} ${pitch}`;
}

function plainDelays(instrument: Instrument, pitches: readonly number[]): Map<number, Samples> {
  return new Map(
    pitches.map((pitch) => {
      const tone = plainNote({ pitch, velocity: 80, instrument }, 0.4, 0, 44100, 1);
      return [pitch, firstAudible({ sampleRate: 44100, channels: [tone] }, 0, 6615)];
    }),
  );
}

/** The last performance as it sounded where it was played: the old record of it starts from there too. */
let last:
  | { readonly performance: Performance; readonly take: ReturnType<typeof renderPlain> }
  | undefined;

function rendered(performance: Performance, cents: Cents, sampled: boolean) {
  if (last?.performance !== performance) {
    const render = sampled ? renderFluid : renderPlain;
    const { notes, pedal, seconds } = performance;
    last = { performance, take: render(notes, pedal, seconds, cents) };
  }
  return last.take;
}

/** Records a performance: sound, place, level, and what is true of the result. */
export function record(session: Session): { audio: Audio; truth: Truth } {
  const { performance, cents, place } = session;
  const sampled = session.sampled && hasFluid();
  const notes = performance.notes;
  measureDelays(notes, sampled);
  const dryTake = rendered(performance, cents, sampled);
  const rate = dryTake.audio.sampleRate;
  const { audio: placed, moved } = putInto(dryTake.audio, place, session.seed);
  const audio = levelled(placed, 0.7);
  const trueNotes = notes
    .map((note, i): TrueNote => {
      const delay = delays.get(delayKey(note.instrument, note.pitch, sampled)) ?? 0;
      const time = ((dryTake.starts[i] ?? 0) + delay) / rate;
      return {
        time: round(moved(time)),
        seconds: round(note.seconds),
        pitch: note.pitch,
        velocity: note.velocity,
        part: note.part,
        instrument: note.instrument.name,
      };
    })
    .filter((note) => note.time < lengthOf(audio) / rate)
    .sort((a, b) => a.time - b.time);
  const tempered = (time: Seconds): Seconds => round(moved(time));
  const beats = performance.beats.map((beat) => ({ ...beat, time: tempered(beat.time) }));
  const truth: Truth = {
    name: session.name,
    kind: session.kind,
    seed: session.seed,
    sampled,
    sampleRate: rate,
    seconds: lengthOf(audio) / rate,
    place,
    notes: trueNotes,
    onsets: mergeAttacks(trueNotes.map((note) => note.time)),
    softAlone: softAlone(trueNotes),
    beats,
    otherBeats: performance.otherBeats.map(tempered),
    bars: beats.filter((beat) => beat.count === 1).map((beat) => beat.time),
    phrases: performance.phrases.map((phrase) => ({
      ...phrase,
      start: tempered(phrase.start),
      end: tempered(phrase.end),
    })),
    tuning: { a4: 440 * 2 ** (cents / 1200), cents },
    key: { tonic: tonicName(performance.tonic), mode: performance.mode },
  };
  return { audio, truth };
}

/** The recording of a piece as an old record gives it: mono, 7.5 kHz, a room, hiss. */
export const oldRecord: Place = {
  ...dry,
  room: 0.4,
  wet: 0.35,
  hiss: -60,
  top: 7500,
  mono: true,
};

function levelled(audio: Audio, peak: number): Audio {
  const now = peakOf(audio) || 1;
  const gain = peak / now;
  return { ...audio, channels: audio.channels.map((channel) => channel.map((x) => x * gain)) };
}

function round(seconds: Seconds): Seconds {
  return Math.round(seconds * 1e6) / 1e6;
}
