import type { Hertz, Share } from '../../shared/math/units.ts';
import { makeChance } from '../chance.ts';

/** One mode of a body: where it lies, how sharp, how strong. */
interface Mode {
  readonly pitch: Hertz;
  readonly sharpness: number;
  readonly strength: number;
}

/**
 * Low modes of a classical guitar: air, top plate, and the ones above, near where Fletcher and
 * Rossing ("The Physics of Musical Instruments", 1998, chapter 9) report them for such bodies. Signs
 * alternate, so that there is no hole between neighbours.
 */
const lowModes: readonly Mode[] = [
  { pitch: 100, sharpness: 7, strength: 0.55 },
  { pitch: 187, sharpness: 10, strength: -0.5 },
  { pitch: 234, sharpness: 13, strength: 0.4 },
  { pitch: 287, sharpness: 14, strength: -0.5 },
  { pitch: 352, sharpness: 14, strength: 0.65 },
  { pitch: 428, sharpness: 16, strength: -0.75 },
  { pitch: 512, sharpness: 18, strength: 0.6 },
  { pitch: 596, sharpness: 18, strength: -0.6 },
];

/**
 * What the body makes of a click at the bridge, as heard from two sides: the low modes alike, the
 * dense ones above (about one in 70 Hz, as plates have them) partly of either side's own, which
 * gives a close pair its width.
 */
export function bodyResponses(rate: Hertz, seed: number): Float64Array[] {
  const shared = makeChance(seed);
  const dense: Mode[] = [];
  for (let pitch = 650; pitch < 12000; pitch *= 1.035 + 0.05 * shared.between(0, 1))
    dense.push({
      pitch,
      sharpness: 28 + 22 * shared.between(0, 1),
      // Small wavelengths leave the plate more easily, up to where bridge and saddle give way.
      strength: 0.85 * shared.normal() * (pitch / 900) ** 0.35 * Math.min(1, 5000 / pitch) ** 1.4,
    });
  return [0, 1].map((side) => {
    const chance = makeChance(seed * 10 + side);
    const modes = [
      ...lowModes,
      ...dense.map((mode) => {
        const own: Share = 0.45 * Math.min(1, mode.pitch / 2500);
        const other = 0.62 * Math.abs(mode.strength) * chance.normal();
        return { ...mode, strength: mode.strength * (1 - own) + own * other };
      }),
    ];
    return ring(modes, Math.round(0.2 * rate), rate);
  });
}

/** Sum of the modes' answers to a click: each a velocity, so it starts at once. */
function ring(modes: readonly Mode[], length: number, rate: Hertz): Float64Array {
  const out = new Float64Array(length);
  for (const { pitch, sharpness, strength } of modes) {
    const omega = (2 * Math.PI * pitch) / rate;
    const fall = Math.exp(-omega / (2 * sharpness));
    const re = fall * Math.cos(omega);
    const im = fall * Math.sin(omega);
    // Alike in weight over the octaves whatever the sharpness.
    let x = (strength * omega) / sharpness;
    let y = 0;
    for (let n = 0; n < length; n++) {
      out[n] += x;
      const next = x * re - y * im;
      y = x * im + y * re;
      x = next;
    }
  }
  return out;
}
