import type { Cents, Hertz, Samples, Seconds, Share } from '../../shared/math/units.ts';
import { type Chance, makeChance } from '../chance.ts';
import type { PlayedNote } from '../performance.ts';
import { addBreathAndKeys } from './hands.ts';
import { Intonation } from './intonation.ts';
import { pressureOf, Reed } from './reed.ts';

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
  const intonation = new Intonation(rate);
  breaths.forEach((breath, index) => {
    const next = breaths[index + 1]?.[0].time ?? Number.POSITIVE_INFINITY;
    const ending = endOf(breath, next);
    const sound = (early: Seconds, seconds: Seconds) =>
      blow(breath, ending, intonation, cents, early, seconds, rate, makeChance(9000 + index));
    // The reed needs time to speak: hear how long, then start the breath that much earlier.
    const trial = sound(0, 0.2);
    const early = firstHeard(trial) / rate;
    const whole = sound(early, ending.at - breath[0].time + early + 0.4);
    const start = Math.round(breath[0].time * rate) - Math.round(early * rate);
    for (let n = 0; n < whole.length && start + n < length; n++) out[start + n] += whole[n];
  });
  addBreathAndKeys(out, notes, rate);
  return out;
}

/** The first sample above an eighth (-18 dB) of the loudest one in a start. */
function firstHeard(start: Float64Array): Samples {
  let loudest = 0;
  for (const value of start) loudest = Math.max(loudest, Math.abs(value));
  return start.findIndex((value) => Math.abs(value) > loudest / 8);
}

interface Ending {
  readonly at: Seconds;
  readonly release: Seconds;
}

/** Long notes are let fade, short ones end; before the next tongued note the tongue lies on the reed. */
function endOf(breath: Breath, next: Seconds): Ending {
  const last = breath[breath.length - 1];
  const release = 0.05 + 0.1 * Math.min(2, last.until - last.time);
  return last.until + release < next - 0.06
    ? { at: last.until, release }
    : { at: Math.min(last.until, next - 0.11), release: 0.03 };
}

/** Breath and fingers are planned every so many samples. */
const control: Samples = 32;
/** Unevenness of the air, as a share of its pressure. */
const hiss: Share = 0.012;

function blow(
  breath: Breath,
  ending: Ending,
  intonation: Intonation,
  cents: Cents,
  early: Seconds,
  seconds: Seconds,
  rate: Hertz,
  chance: Chance,
): Float64Array {
  const out = new Float64Array(Math.ceil(seconds * rate));
  const reed = new Reed(rate);
  const begin = breath[0].time - early;
  const end = ending.at - begin;
  const rise = 0.012 + 0.03 * (1 - breath[0].level);
  const { release } = ending;
  const trembling = chance.between(4.6, 5.4);
  let index = -1;
  let nextAt = 0;
  let level = breath[0].level;
  let noise = 0;
  let wander = 0;
  let pressure = 0;
  let gain = 0;
  for (let from = 0; from < out.length; from += control) {
    const time = from / rate;
    if (time >= nextAt && index + 1 < breath.length) {
      index += 1;
      const { midi = 69, level: asked } = breath[index];
      const pitch = 440 * 2 ** ((midi - 69) / 12 + cents / 1200);
      // A long note swells: its length is set for its middle.
      const middle = breath[index].until - breath[index].time > 0.5 ? 0.06 : 0;
      reed.setPitch(intonation.lengthFor(pitch, asked + middle), index > 0);
      const next = breath[index + 1];
      nextAt = next ? next.time - begin : Number.POSITIVE_INFINITY;
    }
    const note = breath[index];
    // The level glides from note to note, and swells and falls a little within long ones.
    level += (note.level - level) * (index === 0 ? 1 : (18 * control) / rate);
    const within = time - (note.time - begin);
    const long = note.until - note.time;
    const share = Math.min(1, Math.max(0, within / long));
    const now = Math.min(
      1,
      level + (long > 0.5 ? Math.min(0.16, 0.07 + 0.03 * long) * Math.sin(Math.PI * share) : 0),
    );
    const tongue =
      Math.min(1, time / rise) * (time > end ? Math.max(0, 1 - (time - end) / release) : 1);
    wander = 0.985 * wander + 0.0012 * chance.normal();
    const tremble =
      within > 0.35
        ? 0.006 * Math.min(1, within - 0.35) * Math.sin(2 * Math.PI * trembling * within)
        : 0;
    // The tongue lets go with some pressure behind it, so that soft notes speak at all.
    const kick = Math.max(0, 0.92 - now) * Math.exp(-time / 0.04);
    const rough = hiss * (1 + 5 * Math.exp(-time / 0.012));
    const asked =
      pressureOf(now + kick) * Math.sin((Math.PI / 2) * tongue) * (1 + wander + tremble);
    const wanted = 10 ** ((17 * (now - 1)) / 20);
    if (from === 0) gain = wanted;
    const until = Math.min(out.length, from + control);
    const pressureStep = (asked - pressure) / control;
    const gainStep = (wanted - gain) / control;
    for (let n = from; n < until; n++) {
      pressure += pressureStep;
      gain += gainStep;
      noise = 0.7 * noise + 0.3 * chance.noise();
      out[n] = gain * reed.step(pressure * (1 + rough * noise));
    }
  }
  return out;
}
