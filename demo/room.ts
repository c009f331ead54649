import type { Hertz, Seconds } from '../shared/math/units.ts';
import { type Chance, makeChance } from './chance.ts';

/** A place in the room, in metres: across, along, up. */
export type Place = readonly [number, number, number];

/** The loft: boards on all sides, nets on one wall. */
const size: Place = [8.4, 6.1, 3.4];
const speed = 343;
/** The pair: cardioids 17 cm apart, 55 degrees out to each side. */
const pair: readonly { at: Place; towards: number }[] = [
  { at: [4.115, 1.9, 1.6], towards: Math.PI / 2 + 0.96 },
  { at: [4.285, 1.9, 1.6], towards: Math.PI / 2 - 0.96 },
];
/**
 * Octave bands of the late sound: time to fall by 60 dB, level, and how alike it is at the two
 * microphones (in a diffuse field sin(x) / x with x = 2 pi f d / c; d is 17 cm).
 */
const late: readonly { hertz: Hertz; rt60: Seconds; level: number; alike: number }[] = [
  { hertz: 63, rt60: 0.9, level: 0.35, alike: 0.99 },
  { hertz: 125, rt60: 1.0, level: 0.7, alike: 0.97 },
  { hertz: 250, rt60: 1.02, level: 0.9, alike: 0.9 },
  { hertz: 500, rt60: 0.98, level: 1, alike: 0.64 },
  { hertz: 1000, rt60: 0.92, level: 1, alike: 0.01 },
  { hertz: 2000, rt60: 0.82, level: 0.9, alike: 0 },
  { hertz: 4000, rt60: 0.62, level: 0.75, alike: 0 },
  { hertz: 8000, rt60: 0.4, level: 0.5, alike: 0 },
  { hertz: 14000, rt60: 0.24, level: 0.25, alike: 0 },
];

/**
 * What the pair hears of a click at `place`: the direct sound, mirror images of the source in six
 * walls (Allen and Berkley 1979) that lose their top at each bounce, and a late tail of noise
 * that falls at each octave's own rate (Moorer 1979). The direct sound comes at sample 0 of
 * the nearer microphone, so that a stem's attacks lie where they are played.
 */
export function roomResponse(place: Place, seed: number, rate: Hertz): Float64Array[] {
  const length = Math.round(1.1 * rate);
  const nearest = Math.min(...pair.map((mic) => distance(mic.at, place)));
  return pair.map((mic, side) => {
    // Walls are not quite flat, for both microphones alike.
    const uneven = makeChance(seed);
    const response = new Float64Array(length);
    const orders = Array.from({ length: 4 }, () => new Float64Array(length));
    for (const image of imagesOf(place)) {
      const far = distance(mic.at, image.at);
      const jitter = image.bounces === 0 ? 0 : 0.0004 * uneven.normal();
      const delay = ((far - nearest) / speed + jitter) * rate;
      const angle = Math.atan2(image.at[1] - mic.at[1], image.at[0] - mic.at[0]) - mic.towards;
      const flat = Math.hypot(image.at[0] - mic.at[0], image.at[1] - mic.at[1]) / far;
      const heard = 0.5 + 0.5 * Math.cos(angle) * flat;
      spike(orders[image.bounces], Math.max(0, delay), (heard * nearest) / far);
    }
    orders.forEach((taps, bounces) => {
      let dull = 0;
      // Each bounce leaves 0.8 of the sound, and less of its top.
      const smooth = bounces === 0 ? 0 : 0.22 + 0.12 * bounces;
      for (let n = 0; n < length; n++) {
        dull = taps[n] * (1 - smooth) + dull * smooth;
        response[n] += (bounces === 0 ? 1 : 0.75 * 0.8 ** bounces) * dull;
      }
    });
    addLate(response, makeChance(seed + 100), makeChance(seed + 200 + side), rate);
    return response;
  });
}

function addLate(response: Float64Array, both: Chance, own: Chance, rate: Hertz): void {
  const start = Math.round(0.011 * rate);
  const grown = 0.03 * rate;
  for (const { hertz, rt60, level, alike } of late) {
    const apart = Math.sqrt(1 - alike * alike);
    // One octave of noise (bandpass after Zoelzer's constant-skirt biquad), falling by 60 dB in rt60.
    const omega = (2 * Math.PI * Math.min(hertz, 0.4 * rate)) / rate;
    const alpha = Math.sin(omega) / (2 * 1.41);
    const a0 = 1 + alpha;
    const b0 = alpha / a0;
    const a1 = (-2 * Math.cos(omega)) / a0;
    const a2 = (1 - alpha) / a0;
    const fall = 10 ** (-3 / (rt60 * rate));
    // Noise has the same power in each hertz: an octave higher up holds twice as much.
    let gain = 0.036 * level * Math.sqrt(250 / hertz) ** 0.55;
    let x1 = 0;
    let x2 = 0;
    let y1 = 0;
    let y2 = 0;
    for (let n = start; n < response.length; n++) {
      const x = alike * both.noise() + apart * own.noise();
      const y = b0 * (x - x2) - a1 * y1 - a2 * y2;
      x2 = x1;
      x1 = x;
      y2 = y1;
      y1 = y;
      response[n] += gain * y * Math.min(1, (n - start) / grown);
      gain *= fall;
    }
  }
}

interface Image {
  readonly at: Place;
  readonly bounces: number;
}

function imagesOf(place: Place): Image[] {
  const images: Image[] = [];
  const mirrored = (axis: number, k: number) =>
    k % 2 === 0 ? k * size[axis] + place[axis] : (k + 1) * size[axis] - place[axis];
  for (let i = -3; i <= 3; i++)
    for (let j = -3; j <= 3; j++)
      for (let k = -3; k <= 3; k++) {
        const bounces = Math.abs(i) + Math.abs(j) + Math.abs(k);
        if (bounces <= 3)
          images.push({ at: [mirrored(0, i), mirrored(1, j), mirrored(2, k)], bounces });
      }
  return images;
}

function distance(a: Place, b: Place): number {
  return Math.hypot(a[0] - b[0], a[1] - b[1], a[2] - b[2]);
}

/** Adds a spike between two samples. */
function spike(into: Float64Array, at: number, height: number): void {
  const n = Math.floor(at);
  if (n + 1 >= into.length) return;
  into[n] += height * (1 - (at - n));
  into[n + 1] += height * (at - n);
}
