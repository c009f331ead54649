import { describe, expect, it } from 'vitest';
import { Spectra, type Turns } from '../../shared/warp/bands/spectrum.ts';
import { holdPartials } from '../../shared/warp/stretch/held.ts';
import type { Join } from '../../shared/warp/stretch/join.ts';

const size = 64;

/** Real sound whose bins from 0 to half the size are as strong as said, of one phase (radians). */
function sound(strengths: readonly number[], phase: number): Spectra {
  const spectra = new Spectra(1, size, true);
  const [{ re, im }] = spectra.pairs;
  spectra.clear();
  strengths.forEach((strength, k) => {
    re[k] = strength * Math.cos(phase);
    im[k] = strength * Math.sin(phase);
    if (k === 0) return;
    re[size - k] = re[k];
    im[size - k] = -im[k];
  });
  return spectra;
}

/** What is held where before an attack each bin is as strong as in `was`, after it as in `is`, and 1 rad off in the result. */
function heldOf(was: readonly number[], is: readonly number[]): Turns {
  const [turns] = new Spectra(1, size, true).pairs;
  turns.re.fill(1);
  turns.im.fill(0);
  const join: Join = {
    at: 0,
    size,
    before: sound(was, 0),
    after: sound(is, 0),
    sounding: sound(was, 1),
    look: () => sound([], 0),
  };
  holdPartials(join, turns);
  return turns;
}

const angle = ({ re, im }: Turns, k: number) => Math.atan2(im[k], re[k]);
/** A peak at bin 12 with a valley and a shoulder beside it. */
const shape = (at: (k: number) => number) => Array.from({ length: size / 2 + 1 }, (_, k) => at(k));
const peak = shape((k) => (k === 12 ? 1 : Math.abs(k - 12) < 3 ? 0.5 : 0.1));

describe('holdPartials', () => {
  it('lets a partial that was as strong before go on from what sounds', () => {
    const turns = heldOf(peak, peak);
    for (let k = 9; k <= 15; k++) expect(angle(turns, k)).toBeCloseTo(1, 9);
    expect(angle(turns, 25)).toBe(0);
  });

  it('lets a new one start as recorded', () => {
    const turns = heldOf(
      peak.map((x) => x / 10),
      peak,
    );
    for (let k = 0; k <= size / 2; k++) expect(angle(turns, k)).toBe(0);
  });

  it.each([
    // As strong as the bin next to it, but for rounding.
    (step: number) =>
      heldOf(
        peak,
        shape((k) => (k === 13 ? 1 + step : peak[k])),
      ),
    (step: number) =>
      heldOf(
        peak,
        shape((k) => (k === 14 ? 1 + step : peak[k])),
      ),
    // As strong before as is asked for (0.7 of its power), but for rounding.
    (step: number) =>
      heldOf(
        peak.map((x) => x * Math.sqrt(0.7) * (1 + step)),
        peak,
      ),
  ])('never turns on what is rounded (%#)', (held) => {
    const [less, more] = [held(-1e-7), held(1e-7)];
    for (let k = 9; k <= 11; k++)
      expect(Math.abs(angle(less, k) - angle(more, k))).toBeLessThan(1e-4);
  });
});
