import { describe, expect, it } from 'vitest';
import { takeDoubles } from '../../shared/math/kernel-places.ts';
import { makeRandom } from '../../shared/math/random.ts';
import type { Leading } from '../../shared/warp/bands.ts';
import { type Advance, lockPhases, lockRoom } from '../../shared/warp/lock.ts';
import { Spectra } from '../../shared/warp/spectrum.ts';

const size = 256;
const bins = size / 2 + 1;

interface Case {
  readonly pairs: number;
  readonly leading: Leading;
  readonly onwards?: boolean;
  readonly least?: number;
  readonly most?: number;
  /** What a spectrum is multiplied by at each bin. */
  readonly shape?: (bin: number) => number;
  /** What the source is changed by. */
  readonly by?: (x: number) => number;
}

function locked(given: Case, plain: boolean): { re: Float64Array; im: Float64Array } {
  const { pairs, leading, onwards, least = 1, most = 1 } = given;
  const { shape = () => 1, by = (x: number) => x } = given;
  const random = makeRandom(7);
  const filled = () => {
    const spectra = new Spectra(pairs, size, plain);
    for (const { re, im } of spectra.pairs)
      for (let k = 0; k < size; k++) {
        const size = shape(Math.min(k, re.length - k));
        re[k] = (random() - 0.5) * size;
        im[k] = (random() - 0.5) * size;
      }
    return spectra;
  };
  const [last, now, later, written] = [filled(), filled(), filled(), filled()];
  for (const { re, im } of last.pairs)
    for (let k = 0; k < size; k++) {
      re[k] = by(re[k]);
      im[k] = by(im[k]);
    }
  const turns = new Spectra(1, bins, plain);
  const [{ re, im }] = turns.pairs;
  for (let k = 0; k < bins; k++) {
    const [angle, length] = [2 * Math.PI * random(), least < most ? 0.2 + random() : 1];
    re[k] = length * Math.cos(angle);
    im[k] = length * Math.sin(angle);
  }
  const power = takeDoubles(bins, plain);
  now.powers(power);
  const advance: Advance = onwards ? { last, now, later } : { earlier: last };
  const room = takeDoubles(lockRoom(bins), plain);
  room.values.fill(Number.NaN);
  lockPhases(power, advance, written, turns.pairs[0], leading, least, most, room);
  const found = { re: re.slice(), im: im.slice() };
  for (const part of [last, now, later, written, turns, power, room]) part.leave();
  return found;
}

const all: Leading = { from: 0, to: bins, faint: 1e-8 };
/** Tones at some bins, 250 dB over all else. */
const tones = (k: number) => ([20, 31, 32, 90].includes(k) ? 1 : 1e-25);

describe('locked phases', () => {
  it.each<[string, Case]>([
    ['one pair', { pairs: 1, leading: all }],
    ['two pairs', { pairs: 2, leading: all }],
    ['inside a band', { pairs: 1, leading: { from: 9, to: 100, faint: 1e-6 } }],
    ['an odd number of bins', { pairs: 1, leading: { from: 9, to: 101, faint: 1e-6 } }],
    ['onwards', { pairs: 1, leading: all, onwards: true }],
    ['levels that may fall and rise', { pairs: 2, leading: all, least: 0.7, most: 1.2 }],
    ['tones far apart', { pairs: 1, leading: all, shape: tones }],
    [
      'nothing at all for long',
      { pairs: 1, leading: all, onwards: true, shape: (k) => (k % 100 === 7 ? 1 : 1e-150) },
    ],
    ['silence', { pairs: 1, leading: all, shape: () => 0 }],
  ])('come out of kernels to the last bit as they do of the plain form: %s', (_, given) => {
    const [kernel, plain] = [false, true].map((way) => locked(given, way));
    expect(kernel.re).toEqual(plain.re);
    expect(kernel.im).toEqual(plain.im);
    expect(plain.re.every(Number.isFinite) && plain.im.every(Number.isFinite)).toBe(true);
  });

  it('lets a tone lead all up to where another one is as strong, and the last one all beyond', () => {
    const { re, im } = locked({ pairs: 1, leading: all, shape: tones }, true);
    for (const k of [0, 10, 19, 21]) expect(re[k]).toBeCloseTo(re[20], 4);
    for (const k of [70, 89, 91, 128]) expect(im[k]).toBeCloseTo(im[90], 4);
    for (let k = 0; k < bins; k++) expect(Math.hypot(re[k], im[k])).toBeCloseTo(1, 9);
  });

  it('moves as little as what it is made from', () => {
    const random = makeRandom(3);
    const by = (x: number) => x * (1 + 1e-9 * (random() - 0.5));
    const [a, b] = [{}, { by }].map((more) => locked({ pairs: 1, leading: all, ...more }, true));
    for (let k = 0; k < bins; k++)
      expect(Math.hypot(a.re[k] - b.re[k], a.im[k] - b.im[k])).toBeLessThan(1e-7);
  });
});
