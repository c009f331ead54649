import type { Cents, Hertz, Samples, Seconds, Share } from '../../shared/math/units.ts';
import { type Chance, makeChance } from '../chance.ts';
import type { PlayedNote } from '../performance.ts';
import { measurePitch } from './pitch.ts';
import { Reed } from './reed.ts';

/** One breath: a tongued note and what is slurred to it. */
type Breath = readonly PlayedNote[];

/** Plays the clarinet, `cents` away from 440 Hz. Every breath starts from rest and ends in it. */
export function playClarinet(
  notes: readonly PlayedNote[],
  cents: Cents,
  length: Samples,
  rate: Hertz,
): Float64Array {
  const out = new Float64Array(length);
  const breaths: PlayedNote[][] = [];
  for (const note of notes) {
    if (note.slurred && breaths.length > 0) breaths[breaths.length - 1].push(note);
    else breaths.push([note]);
  }
  const intonation = new Intonation(cents, rate);
  breaths.forEach((breath, index) => {
    const sound = (early: Seconds, seconds: Seconds) =>
      blow(breath, intonation, early, seconds, rate, makeChance(9000 + index));
    // The reed needs time to speak: hear how long, then start the breath that much earlier.
    const trial = sound(0, 0.3);
    const early = firstHeard(trial) / rate;
    const whole = sound(early, breath[breath.length - 1].until - breath[0].time + early + 0.25);
    const start = Math.round(breath[0].time * rate) - Math.round(early * rate);
    for (let n = 0; n < whole.length && start + n < length; n++) out[start + n] += whole[n];
  });
  return out;
}

/** The first sample above a fiftieth (-34 dB) of the loudest one in a start. */
function firstHeard(start: Float64Array): Samples {
  let loudest = 0;
  for (const value of start) loudest = Math.max(loudest, Math.abs(value));
  return start.findIndex((value) => Math.abs(value) > loudest / 50);
}

/** Mouth pressure, as a share of what shuts the reed: it speaks from about a third. */
function pressureOf(level: Share): number {
  return 0.385 + 0.17 * level;
}

function blow(
  breath: Breath,
  intonation: Intonation,
  early: Seconds,
  seconds: Seconds,
  rate: Hertz,
  chance: Chance,
): Float64Array {
  const out = new Float64Array(Math.ceil(seconds * rate));
  const reed = new Reed(rate);
  const begin = breath[0].time - early;
  const end = breath[breath.length - 1].until - begin;
  const soft = 1 - breath[0].level;
  const rise = 0.012 + 0.03 * soft;
  const release = 0.05;
  const trembling = chance.between(4.6, 5.4);
  let index = -1;
  let nextAt = 0;
  let level = breath[0].level;
  let breathNoise = 0;
  let wander = 0;
  let gain = 0;
  for (let n = 0; n < out.length; n++) {
    const time = n / rate;
    if (time >= nextAt && index + 1 < breath.length) {
      index += 1;
      reed.setPitch(intonation.lengthFor(breath[index].midi ?? 69, breath[index].level), index > 0);
      nextAt =
        index + 1 < breath.length ? breath[index + 1].time - begin : Number.POSITIVE_INFINITY;
    }
    const note = breath[index];
    // The level glides from note to note, and swells and falls a little within long ones.
    level += (note.level - level) * (12 / rate);
    const within = time - (note.time - begin);
    const long = note.until - note.time;
    const swell =
      long > 0.5 ? 0.1 * Math.sin(Math.PI * Math.min(1, Math.max(0, within / long))) : 0;
    const now = Math.min(1, level + swell);
    const tongue =
      Math.min(1, time / rise) * (time > end ? Math.max(0, 1 - (time - end) / release) : 1);
    if (n % 64 === 0) wander = 0.985 * wander + 0.0022 * chance.normal();
    breathNoise = 0.7 * breathNoise + 0.3 * chance.normal();
    const tremble =
      within > 0.35
        ? 0.006 * Math.min(1, within - 0.35) * Math.sin(2 * Math.PI * trembling * within)
        : 0;
    const shaped = Math.sin((Math.PI / 2) * tongue);
    const pressure = pressureOf(now) * shaped * (1 + wander + tremble + 0.012 * breathNoise);
    const target = 10 ** ((22 * (now - 1)) / 20);
    gain += (target - gain) * (n === 0 ? 1 : 30 / rate);
    out[n] = gain * reed.step(pressure);
  }
  return out;
}

/**
 * Where the fingers go for a pitch: the reed and the bell pull a bore away from its own length, so
 * each note is blown once in trial and its length corrected until it sounds in tune.
 */
class Intonation {
  private readonly known = new Map<string, number>();

  constructor(
    private readonly cents: Cents,
    private readonly rate: Hertz,
  ) {}

  /** Length of the bore (there and back) in samples. */
  lengthFor(midi: number, level: Share): number {
    // In steps of an eighth: nearer is not heard.
    const step = Math.round(level * 8) / 8;
    const key = `${midi}/${step}`;
    let length = this.known.get(key);
    if (length === undefined) {
      const pitch = 440 * 2 ** ((midi - 69) / 12 + this.cents / 1200);
      length = this.rate / pitch / 2 - 4;
      for (let round = 0; round < 3; round++) {
        const reed = new Reed(this.rate);
        reed.setPitch(length, false);
        const out = new Float64Array(Math.round(0.42 * this.rate));
        for (let n = 0; n < out.length; n++)
          out[n] = reed.step(pressureOf(step) * Math.min(1, n / 500));
        const heard = measurePitch(out.subarray(out.length >> 1), pitch, this.rate);
        length *= 1 + (heard / pitch - 1) * 1.05;
      }
      this.known.set(key, length);
    }
    return length;
  }
}
