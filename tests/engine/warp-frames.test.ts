import { describe, expect, it } from 'vitest';
import { makeRandom } from '../../shared/math/random.ts';
import { Framer, Spectra } from '../../shared/warp/bands/spectrum.ts';
import { Strip } from '../../shared/warp/bands/strip.ts';
import { Workspace } from '../../shared/warp/bands/workspace.ts';

const length = 300;

function stripOf(seed: number): Strip {
  const random = makeRandom(seed);
  const strip = new Strip(length, length, new Workspace());
  strip.room(length);
  for (let i = 0; i < length; i++) {
    strip.re[i] = random() - 0.5;
    strip.im[i] = random() - 0.5;
  }
  return strip;
}

/** Frames on both edges of the signal, cut off, and inside, taken apart and added up. */
function framesOf(plain: boolean, size: number) {
  const framer = new Framer(size, plain);
  const strip = stripOf(3);
  const [sum] = new Spectra(1, length, plain).pairs;
  sum.re.fill(0);
  sum.im.fill(0);
  const apart = [
    [-size, length],
    [-size / 2, length],
    [17, length],
    [40, 50],
    [60, 40],
    [length - size / 2, length],
  ].map(([first, limit]) => {
    const [spectrum] = new Spectra(1, size, plain).pairs;
    framer.analyse(strip, first, limit, spectrum);
    const kept = { re: spectrum.re.slice(), im: spectrum.im.slice() };
    framer.add(spectrum, sum, length, first);
    return kept;
  });
  return { apart, sum: { re: sum.re.slice(), im: sum.im.slice() } };
}

describe('Framer', () => {
  it.each([16, 64, 128])('gives the same bits plain and by SIMD, frames of %i', (size) => {
    const plain = framesOf(true, size);
    expect(framesOf(false, size)).toEqual(plain);
    // Memory that grows between calls moves.
    new Framer(1 << 15);
    expect(framesOf(false, size)).toEqual(plain);
    expect(plain.sum.re.some((v) => v !== 0)).toBe(true);
  });
});
