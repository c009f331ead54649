import type { Hertz, Samples, Seconds, Share } from '../../shared/math/units.ts';
import { type Chance, makeChance } from '../chance.ts';
import type { PlayedNote } from '../performance.ts';
import { besselJ, type MembraneMode, membraneModes } from './membrane.ts';

interface Stroke {
  /** Where the hand falls: 0 the middle, 1 the rim. */
  readonly place: Share;
  /** How long the touch lasts when soft and when loud. */
  readonly touch: readonly [Seconds, Seconds];
  /** How much goes into the skin, the hand's own noise, the frame. */
  readonly skin: number;
  readonly slap: number;
  readonly frame: number;
  /** What the hand leaves of the skin's ringing time. */
  readonly ring: Share;
}

const strokes: Record<string, Stroke> = {
  D: { place: 0.48, touch: [0.005, 0.0022], skin: 0.5, slap: 0.9, frame: 0.1, ring: 1 },
  d: { place: 0.5, touch: [0.006, 0.0034], skin: 0.5, slap: 0.7, frame: 0.06, ring: 0.9 },
  T: { place: 0.9, touch: [0.0012, 0.0005], skin: 0.17, slap: 0.95, frame: 0.8, ring: 0.6 },
  t: { place: 0.86, touch: [0.0018, 0.0009], skin: 0.18, slap: 0.85, frame: 0.5, ring: 0.5 },
  S: { place: 0.6, touch: [0.0015, 0.0006], skin: 0.3, slap: 1.15, frame: 0.3, ring: 0.2 },
};

/** The skin's lowest pitch, once the air on it has slowed it. */
const fundamental: Hertz = 84;

interface Hit {
  readonly at: Samples;
  readonly stroke: Stroke;
  readonly place: Share;
  readonly angle: number;
  /** Force of the touch over time. */
  readonly push: Float64Array;
  readonly height: number;
  readonly level: Share;
}

/** A frame drum played with the hands: modes of a round skin, the touch's own noise, the frame. */
export function playDrum(notes: readonly PlayedNote[], length: Samples, rate: Hertz): Float64Array {
  const out = new Float64Array(length);
  const chance = makeChance(311);
  const hits = notes.map((note): Hit => {
    const stroke = strokes[note.stroke ?? ''];
    if (!stroke) throw new RangeError(`"${note.stroke}" is no stroke.`);
    const [soft, loud] = stroke.touch;
    const touch = (soft + (loud - soft) * note.level) * chance.between(0.85, 1.2);
    return {
      at: Math.round(note.time * rate),
      stroke,
      place: Math.min(0.97, Math.max(0.05, stroke.place + 0.05 * chance.normal())),
      angle: chance.between(0, 0.9),
      push: pushOf(touch, rate),
      height: 10 ** ((18 * (note.level - 1)) / 20) * chance.between(0.92, 1.08),
      level: note.level,
    };
  });
  const peaks = Array.from({ length: 12 }, (_, m) => peakOf(m));
  for (const mode of membraneModes(32)) ringMode(mode, peaks[mode.m], hits, out, rate, chance);
  for (const hit of hits) addTouch(hit, out, rate, chance);
  return out;
}

/** Force of a touch over time, of area 1: softer touches last longer, so they hold less treble. */
function pushOf(seconds: Seconds, rate: Hertz): Float64Array {
  const count = Math.max(3, Math.round(seconds * rate));
  return Float64Array.from(
    { length: count },
    (_, n) => (1 - Math.cos((2 * Math.PI * (n + 0.5)) / count)) / count,
  );
}

/** One mode over the whole take: a turning, shrinking pointer that every stroke pushes. */
function ringMode(
  mode: MembraneMode,
  peak: number,
  hits: readonly Hit[],
  out: Float64Array,
  rate: Hertz,
  chance: Chance,
): void {
  const pitch = fundamental * mode.ratio * (1 + 0.004 * chance.normal());
  // The lowest mode gives its energy to the air at once; the others last, shorter the higher they are.
  const lowest = mode.m === 0 && mode.zero < 3;
  const rt60 = lowest ? 0.3 : 0.62 / (0.5 + pitch / 330);
  // A round mode pushes air; one cut by nodal lines moves it from side to side and is heard less.
  const voice = (mode.m === 0 ? 1 : 0.9 / Math.sqrt(mode.m)) * (lowest ? 1.1 : 2.6 / mode.zero);
  const turn = 0.37 * mode.m + mode.zero;
  let x = 0;
  let y = 0;
  hits.forEach((hit, index) => {
    const until = Math.min(out.length, hits[index + 1]?.at ?? out.length);
    const shape = besselJ(mode.m, mode.zero * hit.place) / peak;
    const here = shape * Math.cos(mode.m * hit.angle + turn);
    const weight = hit.height * hit.stroke.skin * here * voice;
    const fall = 10 ** (-3 / (rt60 * hit.stroke.ring * rate));
    const { push } = hit;
    // A hard stroke stretches the skin: it starts sharp and comes down.
    let bend = 0.03 * hit.height * Math.min(1, hit.stroke.skin);
    let re = 0;
    let im = 0;
    for (let from = hit.at; from < until; from += 64) {
      const since = from - hit.at;
      if (since > push.length && x * x + y * y < 1e-10) break;
      const omega = (2 * Math.PI * pitch * (1 + bend)) / rate;
      re = fall * Math.cos(omega);
      im = fall * Math.sin(omega);
      bend *= 0.97;
      const end = Math.min(until, from + 64);
      for (let n = from; n < end; n++) {
        const next = x * re - y * im;
        y = x * im + y * re;
        x =
          since < push.length && n - hit.at < push.length ? next + weight * push[n - hit.at] : next;
        out[n] += x;
      }
    }
  });
}

/** Highest value of J_m. */
function peakOf(m: number): number {
  let peak = 0;
  for (let x = 0; x < 16; x += 0.1) peak = Math.max(peak, Math.abs(besselJ(m, x)));
  return peak;
}

/** Modes of the bent wood. */
const frameModes: readonly { pitch: Hertz; rt60: Seconds }[] = [
  { pitch: 412, rt60: 0.09 },
  { pitch: 873, rt60: 0.08 },
  { pitch: 1480, rt60: 0.06 },
  { pitch: 2290, rt60: 0.045 },
  { pitch: 3350, rt60: 0.035 },
];

/** The hand's own sound: a short burst of noise, brighter the harder, and the wood. */
function addTouch(hit: Hit, out: Float64Array, rate: Hertz, chance: Chance): void {
  const { stroke, height, level } = hit;
  const length = Math.round(0.1 * rate);
  const dull = Math.exp((-2 * Math.PI * (1100 + 3600 * level)) / rate);
  const click = 10 ** (-3 / (0.012 * chance.between(0.8, 1.3) * rate));
  // The skin's highest modes lie so close together that they are noise that rings.
  const ring = 10 ** (-3 / (0.11 * chance.between(0.8, 1.3) * (0.4 + 0.6 * stroke.ring) * rate));
  let sharp = 0.75 * height * stroke.slap;
  let dense = 0.4 * height * stroke.slap;
  let low = 0;
  let lower = 0;
  let mid = 0;
  for (let n = 0; n < length && hit.at + n < out.length; n++) {
    const rise = Math.min(1, n / 12);
    low += (1 - dull) * (chance.noise() - low);
    lower += 0.08 * (low - lower);
    mid += 0.3 * (low - mid);
    out[hit.at + n] += rise * (sharp * (low - lower) + dense * (mid - lower));
    sharp *= click;
    dense *= ring;
  }
  for (const wood of frameModes) {
    const omega = (2 * Math.PI * wood.pitch * (1 + 0.01 * chance.normal())) / rate;
    const shrink = 10 ** (-3 / (wood.rt60 * chance.between(0.7, 1.3) * rate));
    let strength = 0.25 * height * stroke.frame * (0.6 + 0.4 * chance.normal());
    for (let n = 0; n < length && hit.at + n < out.length; n++) {
      out[hit.at + n] += strength * Math.sin(omega * n);
      strength *= shrink;
    }
  }
}
