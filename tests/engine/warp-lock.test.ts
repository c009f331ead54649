import { describe, expect, it } from 'vitest';
import { takeDoubles } from '../../shared/math/kernel-places.ts';
import { makeRandom } from '../../shared/math/random.ts';
import { Spectra } from '../../shared/warp/bands/spectrum.ts';
import { lockPhases } from '../../shared/warp/stretch/lock.ts';

const size = 128;
const bins = size / 2 + 1;
const leading = { from: 0, to: bins, faint: 1e-6 };

/** Spectra of two pairs of channels: partials of many levels, close together, and noise below them. */
function chord(seed: number, plain: boolean): Spectra {
  const random = makeRandom(seed);
  const spectra = new Spectra(2, size, plain);
  for (const { re, im } of spectra.pairs)
    for (let k = 0; k < size; k++) {
      const level = 10 ** (-2.5 * Math.abs(Math.sin(k * (1 + (seed % 7)))));
      // Whole steps: many bins are as strong as each other.
      re[k] = seed % 3 === 0 ? Math.round(3 * random()) : level * (random() - 0.5);
      im[k] = seed % 3 === 0 ? 0 : level * (random() - 0.5);
    }
  return spectra;
}

function turnsOf(now: Spectra, beside: Spectra, written: Spectra, plain: boolean, onwards = false) {
  const power = takeDoubles(bins, plain);
  now.powers(power);
  const all = new Spectra(1, bins, plain);
  const [turns] = all.pairs;
  const random = makeRandom(3);
  for (let k = 0; k < bins; k++) {
    turns.re[k] = random() - 0.5;
    turns.im[k] = random() - 0.5;
  }
  const advance = onwards ? { last: beside, later: written, now } : { earlier: beside };
  lockPhases(power, advance, written, turns, leading, 0.7, 1.1);
  const found = [...turns.re, ...turns.im];
  for (const part of [now, beside, written, all, power]) part.leave();
  return found;
}

function locked(seed: number, plain: boolean, onwards: boolean): number[] {
  const [now, beside, written] = [0, 1, 2].map((n) => chord(seed + 7 * n, plain));
  return turnsOf(now, beside, written, plain, onwards);
}

/** What a spectrum of these magnitudes is turned by whose phases go on by other angles at each bin. */
function led(magnitudes: readonly number[]): number[] {
  const [now, beside, written] = [0, 0.7, 0].map((angle) => {
    const spectra = new Spectra(1, size);
    spectra.clear();
    const [{ re, im }] = spectra.pairs;
    magnitudes.forEach((x, k) => {
      re[k] = x * Math.cos(angle * k);
      im[k] = x * Math.sin(angle * k);
    });
    return spectra;
  });
  return turnsOf(now, beside, written, false);
}

describe('phase locking', () => {
  it('is the same in kernels to the last bit', () => {
    for (let seed = 1; seed < 200; seed++)
      for (const onwards of [false, true])
        expect(locked(seed, false, onwards)).toEqual(locked(seed, true, onwards));
  });

  it.each([
    ['a peak comes up at the edge of a stronger one', [9, 7, 5, 4, 5, 2, 1], 4],
    ['the valley between two peaks moves', [9, 6, 2, 4, 2, 6, 9], 2],
    ['two peaks lie two bins apart', [9, 7, 4, 6, 5, 8, 3, 8, 6, 7, 4], 5],
    ['a peak becomes audible', [9, 3, 1e-4, 1e-4, 1e-4, 9e-3, 1e-4], 5],
  ])('hangs on no bin that is hardly stronger than another: %s', (_, shape, at) => {
    const around = (change: number) => {
      const magnitudes = Array.from({ length: bins }, () => 0);
      shape.forEach((x, i) => {
        magnitudes[20 + i] = i === at ? x * (1 + change) : x;
      });
      return led(magnitudes);
    };
    const [less, more] = [around(-1e-7), around(1e-7)];
    less.forEach((x, k) => {
      expect(Math.abs(x - more[k])).toBeLessThan(1e-4);
    });
  });
});
