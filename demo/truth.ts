import type { Cents, Hertz, Seconds, Semitones, Share } from '../shared/math/units.ts';
import type { Player } from './names.ts';
import type { Performance } from './performance.ts';
import { beatsPerBar, score } from './score.ts';

export interface TrueOnset {
  /** The attack's first audible sample, on the take's timeline. */
  readonly time: Seconds;
  readonly player: Player;
  /** How hard it is played, 0 to 1. */
  readonly level: Share;
  /** MIDI note number; absent for strokes of the drum. */
  readonly midi?: number;
  /** Joined to the note before with no new breath or tongue: there is a change, but no attack. */
  readonly slurred: boolean;
  /** A stroke or note that is felt rather than heard. */
  readonly ghost: boolean;
}

export interface TrueBeat {
  readonly time: Seconds;
  /** Place in the bar, from 1. */
  readonly count: number;
  /** Bars from 1; the pickup's is 0. */
  readonly bar: number;
}

export interface TruePhrase {
  /** Its first attack. */
  readonly start: Seconds;
  /** When its last note is let go. */
  readonly end: Seconds;
  readonly like?: { readonly phrase: number; readonly semitones: Semitones };
}

/** What is known of the demo take because it was written: times in the take's seconds. */
export interface DemoTruth {
  readonly seconds: Seconds;
  readonly onsets: readonly TrueOnset[];
  readonly beats: readonly TrueBeat[];
  /** Where each whole bar starts. */
  readonly bars: readonly Seconds[];
  readonly phrases: readonly TruePhrase[];
  readonly tuning: Readonly<Record<Player, { readonly a4: Hertz; readonly cents: Cents }>>;
  /** Of the first five phrases; the last two stand a whole tone higher. */
  readonly key: { readonly tonic: string; readonly mode: 'major' | 'minor' };
}

/** How far each player is from 440 Hz. The clarinet never warmed up. */
export const tuningCents: Readonly<Record<Player, Cents>> = { guitar: 0, clarinet: -7, drum: 0 };

/** What rings on after the last note, kept in the take. */
const ringing: Seconds = 4.8;

/** Length of the take. */
export function takeSeconds(performance: Performance): Seconds {
  const last = performance.notes[performance.notes.length - 1];
  return Math.ceil((last.time + ringing) * 10) / 10;
}

/**
 * Writes down what a performance is. A note's time is when it is first heard: strings and skins
 * answer at once, and the clarinet's breath is set early by as long as the reed needs to speak.
 */
export function writeTruth(performance: Performance): DemoTruth {
  const { time, notes } = performance;
  const onsets = notes.map((note) => ({
    time: note.time,
    player: note.player,
    level: note.level,
    ...(note.midi === undefined ? {} : { midi: note.midi }),
    slurred: note.slurred,
    ghost: note.level < 0.2,
  }));
  const last = notes[notes.length - 1];
  const beats: TrueBeat[] = [];
  const first = time.phraseAt[0] - score[0].pickup;
  for (let place = first; place < time.total; place++) {
    const at = time.timeOf(place);
    // Nobody counts on after the last chord.
    if (at > last.time + 0.1) break;
    beats.push({
      time: at,
      count: 1 + (place % beatsPerBar),
      bar: Math.floor(place / beatsPerBar),
    });
  }
  const notesOf = (phrase: number) => notes.filter((note) => note.phrase === phrase);
  const starts = score.map((_, index) => notesOf(index)[0].time);
  const phrases = score.map((phrase, index) => {
    const until = Math.max(...notesOf(index).map((note) => note.until));
    return {
      start: starts[index],
      end: Math.min(until, starts[index + 1] ?? takeSeconds(performance)),
      ...(phrase.like ? { like: phrase.like } : {}),
    };
  });
  const a4 = (cents: Cents): Hertz => 440 * 2 ** (cents / 1200);
  return {
    seconds: takeSeconds(performance),
    onsets,
    beats,
    bars: beats.filter((beat) => beat.count === 1).map((beat) => beat.time),
    phrases,
    tuning: {
      guitar: { a4: a4(tuningCents.guitar), cents: tuningCents.guitar },
      clarinet: { a4: a4(tuningCents.clarinet), cents: tuningCents.clarinet },
      drum: { a4: a4(tuningCents.drum), cents: tuningCents.drum },
    },
    key: { tonic: 'D', mode: 'minor' },
  };
}
