import type { Hertz, Samples, Seconds, Share } from '../../shared/math/units.ts';
import { makeChance } from '../chance.ts';
import type { PlayedNote } from '../performance.ts';
import { fingerNotes } from './fingering.ts';
import { addSqueaks } from './hands.ts';
import { type Ringing, StringLoop } from './string.ts';

/** Level 0 to 1 as amplitude: 16 dB from hardly touched to as loud as it goes. */
export function force(level: Share): number {
  return 10 ** ((16 * (level - 1)) / 20);
}

/** Nylon rings longer low down; wound strings keep more of their top. */
function ringingOf(midi: number, wound: boolean): { low: Seconds; high: Seconds } {
  const octaves = (midi - 40) / 12;
  return { low: 6.4 * 2 ** (-0.5 * octaves), high: (wound ? 0.75 : 0.52) * 2 ** (-0.3 * octaves) };
}

interface StringEvent {
  readonly at: Samples;
  readonly midi: number;
  /** Absent where a finger only stops the string. */
  readonly level?: Share;
}

/** The player's finger rests on the string for a moment before it plucks. */
const rest: Seconds = 0.022;

/**
 * A nylon-string guitar with its lowest string let down to D: six strings of two polarisations each
 * (slightly apart in pitch and decay, so that notes beat and fade in two stages), plucked between
 * a seventh and a third of their length with fingertips that are quicker the harder they play, and
 * lower strings that ring along with what the higher ones do. The result is the force at the
 * bridge; the body is a filter of its own.
 */
export function playGuitar(
  notes: readonly PlayedNote[],
  length: Samples,
  rate: Hertz,
): Float64Array {
  const bridge = new Float64Array(length);
  const chance = makeChance(77);
  const strings = fingerNotes(notes);
  const own = new Float64Array(length);
  const drive = new Float64Array(length);
  // From the highest string down: what sounds already makes the lower ones ring along.
  for (let string = strings.length - 1; string >= 0; string--) {
    const { open, played } = strings[string];
    const events = eventsOf(played, rate);
    own.fill(0);
    for (let n = 0; n < length; n++) drive[n] = 0.0011 * bridge[n];
    const cents = 0.6 * chance.normal();
    const loops = [new StringLoop(rate, 60), new StringLoop(rate, 60)];
    const tune = (midi: number, stopped: boolean) => {
      const pitch = 440 * 2 ** ((midi - 69) / 12 + cents / 1200);
      const rings = ringingOf(midi, string < 3);
      const dead = { pitch, low: 0.07, high: 0.02 };
      const across: Ringing = { pitch, low: rings.low * 0.72, high: rings.high };
      const along: Ringing = {
        pitch: pitch * 2 ** (0.5 / 1200),
        low: rings.low * 1.5,
        high: rings.high * 1.2,
      };
      loops[0].tune(stopped ? dead : across);
      loops[1].tune(stopped ? dead : along);
    };
    tune(open, false);
    let from = 0;
    for (let k = 0; k <= events.length; k++) {
      const event = events[k];
      const until = event ? event.at : length;
      for (const [index, loop] of loops.entries())
        loop.run(drive, own, from, until, index === 0 ? 0.72 : 0.28);
      from = until;
      if (!event) break;
      tune(event.midi, event.level === undefined);
      if (event.level !== undefined)
        pluck(drive, until, loops[0].period, event.level, string, rate, chance);
    }
    for (let n = 0; n < length; n++) bridge[n] += own[n];
  }
  addSqueaks(bridge, notes, rate);
  return bridge;
}

/** Plucks, and the moments at which a finger stops the string: before the next pluck, and when let go. */
function eventsOf(played: readonly PlayedNote[], rate: Hertz): StringEvent[] {
  const events: StringEvent[] = [];
  played.forEach((note, index) => {
    const at = Math.round(note.time * rate);
    const midi = note.midi ?? 0;
    const before = played[index - 1];
    if (before) {
      const stop = Math.max(before.time + 0.03, Math.min(before.until, note.time - rest));
      if (stop < note.time) events.push({ at: Math.round(stop * rate), midi: before.midi ?? 0 });
    }
    events.push({ at, midi, level: note.level });
  });
  return events;
}

/** Adds a pluck: the bridge force of a string let go from a triangle, its corners rounded by the finger. */
function pluck(
  drive: Float64Array,
  at: Samples,
  period: Samples,
  level: Share,
  string: number,
  rate: Hertz,
  chance: ReturnType<typeof makeChance>,
): void {
  const place = Math.min(0.34, Math.max(0.11, 0.2 + 0.035 * chance.normal()));
  const width = Math.max(2, Math.round(place * period));
  // The thumb's flesh is slower than the nails on the high strings.
  const corner =
    (string < 3 ? 0.00045 : 0.00032) * (1.75 - 1.35 * level) * chance.between(0.85, 1.2);
  const edge = Math.max(2, Math.round(corner * rate));
  const height = force(level) * (string < 3 ? 0.8 : 1.25);
  const ramp = (n: number) =>
    n <= 0 ? 0 : n >= edge ? 1 : 0.5 - 0.5 * Math.cos((Math.PI * n) / edge);
  const grain = 0.1 * height * (0.4 + 0.6 * level);
  for (let n = 0; n < width + edge && at + n < drive.length; n++) {
    const rough = n < 2 * edge ? grain * chance.normal() * ramp(n) * ramp(2 * edge - n) : 0;
    drive[at + n] += height * (ramp(n) - ramp(n - width)) + rough;
  }
}
