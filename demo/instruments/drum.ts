import type { Hertz, Samples, Seconds, Share } from '../../shared/math/units.ts';
import { type Chance, makeChance } from '../chance.ts';
import type { PlayedNote } from '../performance.ts';
import { besselJ, membraneModes } from './membrane.ts';

interface Stroke {
  /** Where the hand falls: 0 the middle, 1 the rim. */
  readonly place: Share;
  /** How long the touch lasts when soft and when loud. */
  readonly touch: readonly [Seconds, Seconds];
  readonly skin: number;
  readonly slap: number;
  readonly frame: number;
  /** Time by which the skin's ringing is cut, 1 for an open stroke. */
  readonly ring: number;
}

const strokes: Record<string, Stroke> = {
  D: { place: 0.42, touch: [0.009, 0.0042], skin: 1, slap: 0.05, frame: 0.02, ring: 1 },
  d: { place: 0.45, touch: [0.011, 0.006], skin: 0.9, slap: 0.04, frame: 0.01, ring: 1 },
  T: { place: 0.9, touch: [0.0022, 0.0009], skin: 0.75, slap: 0.35, frame: 0.3, ring: 0.8 },
  t: { place: 0.86, touch: [0.0034, 0.0018], skin: 0.7, slap: 0.3, frame: 0.15, ring: 0.7 },
  S: { place: 0.55, touch: [0.0028, 0.0011], skin: 0.8, slap: 0.9, frame: 0.12, ring: 0.22 },
};

/** The skin's lowest pitch, once the air on it has slowed it. */
const fundamental: Hertz = 78;

/** A frame drum played with the hands: modes of a round skin, the touch's own noise, the frame. */
export function playDrum(notes: readonly PlayedNote[], length: Samples, rate: Hertz): Float64Array {
  const out = new Float64Array(length);
  const chance = makeChance(311);
  const hits = notes.map((note) => {
    const stroke = strokes[note.stroke ?? ''];
    if (!stroke) throw new RangeError(`"${note.stroke}" is no stroke.`);
    const place = Math.min(0.97, Math.max(0.05, stroke.place + 0.05 * chance.normal()));
    const touch =
      (stroke.touch[0] + (stroke.touch[1] - stroke.touch[0]) * note.level) *
      chance.between(0.85, 1.2);
    return {
      at: Math.round(note.time * rate),
      stroke,
      place,
      angle: chance.between(0, 0.9),
      push: pushOf(touch, rate),
      height: 10 ** ((30 * (note.level - 1)) / 20) * chance.between(0.92, 1.08),
      level: note.level,
    };
  });
  for (const mode of membraneModes) ringMode(mode, hits, out, rate, chance);
  for (const hit of hits) addTouch(hit, out, rate, chance);
  return out;
}

interface Hit {
  readonly at: Samples;
  readonly stroke: Stroke;
  readonly place: Share;
  readonly angle: number;
  readonly push: Float64Array;
  readonly height: number;
  readonly level: Share;
}

/** Force of a touch over time, of area 1. */
function pushOf(seconds: Seconds, rate: Hertz): Float64Array {
  const count = Math.max(3, Math.round(seconds * rate));
  return Float64Array.from(
    { length: count },
    (_, n) => (1 - Math.cos((2 * Math.PI * (n + 0.5)) / count)) / count,
  );
}

/** One mode over the whole take: a turning, shrinking pointer that every stroke pushes. */
function ringMode(
  mode: (typeof membraneModes)[number],
  hits: readonly Hit[],
  out: Float64Array,
  rate: Hertz,
  chance: Chance,
): void {
  const pitch = fundamental * mode.ratio * (1 + 0.004 * chance.normal());
  if (pitch > 0.4 * rate) return;
  // The lowest mode gives its energy to the air; the others last, shorter the higher they are.
  const rt60 = mode.m === 0 && mode.n === 1 ? 0.42 : 1.5 / (0.75 + 0.24 * mode.ratio);
  const peak = peakOf(mode.m);
  let x = 0;
  let y = 0;
  hits.forEach((hit, index) => {
    const until = Math.min(out.length, hits[index + 1]?.at ?? out.length);
    const here =
      (besselJ(mode.m, mode.zero * hit.place) / peak) * Math.cos(mode.m * hit.angle + mode.turn);
    const weight = hit.height * hit.stroke.skin * here * mode.voice;
    const decay = rt60 * hit.stroke.ring;
    const fall = 10 ** (-3 / (decay * rate));
    // A hard stroke stretches the skin: it starts sharp and comes down.
    let bend = 0.035 * hit.height * (hit.stroke.skin === 1 ? 1 : 0.4);
    let re = 0;
    let im = 0;
    for (let n = hit.at; n < until; n++) {
      const since = n - hit.at;
      if (since % 64 === 0) {
        const omega = (2 * Math.PI * pitch * (1 + bend)) / rate;
        re = fall * Math.cos(omega);
        im = fall * Math.sin(omega);
        bend *= 0.97;
        if (since > hit.push.length && x * x + y * y < 1e-14) break;
      }
      const pushed = since < hit.push.length ? weight * hit.push[since] : 0;
      const next = x * re - y * im + pushed;
      y = x * im + y * re;
      x = next;
      out[n] += x;
    }
  });
}

/** Highest value of the mode's shape across the skin. */
function peakOf(m: number): number {
  let peak = 0;
  for (let x = 0; x < 12; x += 0.1) peak = Math.max(peak, Math.abs(besselJ(m, x)));
  return peak;
}

const frameModes = [
  { pitch: 412, rt60: 0.12 },
  { pitch: 873, rt60: 0.1 },
  { pitch: 1480, rt60: 0.07 },
  { pitch: 2290, rt60: 0.05 },
  { pitch: 3350, rt60: 0.04 },
];

/** The hand's own sound: a short burst of noise, brighter the harder, and the wood. */
function addTouch(hit: Hit, out: Float64Array, rate: Hertz, chance: Chance): void {
  const { stroke, height, level } = hit;
  const length = Math.round(0.12 * rate);
  const dull = Math.exp((-2 * Math.PI * (900 + 4200 * level)) / rate);
  const fall = 10 ** (-3 / ((0.02 + 0.03 * stroke.slap) * rate));
  let envelope = 0.5 * height * stroke.slap;
  let low = 0;
  let lower = 0;
  for (let n = 0; n < length && hit.at + n < out.length; n++) {
    const rise = Math.min(1, n / 20);
    low += (1 - dull) * (chance.normal() - low);
    lower += 0.03 * (low - lower);
    out[hit.at + n] += envelope * rise * (low - lower);
    envelope *= fall;
  }
  for (const wood of frameModes) {
    const omega = (2 * Math.PI * wood.pitch * (1 + 0.01 * chance.normal())) / rate;
    const shrink = 10 ** (-3 / (wood.rt60 * rate));
    let strength = 0.25 * height * stroke.frame * (0.6 + 0.4 * chance.normal());
    for (let n = 0; n < length && hit.at + n < out.length; n++) {
      out[hit.at + n] += strength * Math.sin(omega * n);
      strength *= shrink;
    }
  }
}
