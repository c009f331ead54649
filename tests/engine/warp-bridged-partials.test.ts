import { describe, expect, it } from 'vitest';
import { Spectra } from '../../shared/warp/bands/spectrum.ts';
import { type Bridge, bridgePartials } from '../../shared/warp/stretch/bridge.ts';
import type { Join } from '../../shared/warp/stretch/join.ts';

const size = 64;
const bins = size / 2 + 1;

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

/**
 * The bridge where before an attack each bin is as strong as in `was`, after it as in `is`, and the result is `off` radians from
 * the source. Phases stand still from frame to frame, as those of bins that a hop holds whole turns of: every fourth.
 */
function bridgeOf(was: readonly number[], is: readonly number[], off = 1): Bridge | undefined {
  const [turns] = new Spectra(1, size, true).pairs;
  turns.re.fill(1);
  turns.im.fill(0);
  const join: Join = {
    at: 0,
    size,
    before: sound(was, 0),
    after: sound(is, 0),
    sounding: sound(was, off),
    look: () => sound(was, 0),
  };
  const signals = { lead: [], sources: [], outputs: [], shares: [], single: true };
  return bridgePartials(join, signals, turns);
}

/** What a bridge adds to a silent frame of the result that begins at `at`: real and imaginary part of each bin. */
function addedBy(bridge: Bridge | undefined, at: number): [number, number][] {
  const [frame] = new Spectra(1, size, true).pairs;
  frame.re.fill(0);
  frame.im.fill(0);
  bridge?.addToLead(frame, 0, at);
  return Array.from({ length: bins }, (_, k) => [frame.re[k], frame.im[k]]);
}

const shape = (at: (k: number) => number) => Array.from({ length: bins }, (_, k) => at(k));
/** A peak at bin 12 with a valley and a shoulder beside it. */
const peak = shape((k) => (k === 12 ? 1 : Math.abs(k - 12) < 3 ? 0.5 : 0.1));

describe('bridgePartials', () => {
  it('adds what result and source differ by before the attack, to a partial that is the same after it', () => {
    for (const at of [-size, -size / 2, 0]) {
      const added = addedBy(bridgeOf(peak, peak), at);
      for (let k = 10; k <= 14; k++) {
        expect(added[k][0]).toBeCloseTo(peak[k] * (Math.cos(1) - 1), 9);
        expect(added[k][1]).toBeCloseTo(peak[k] * Math.sin(1), 9);
      }
      expect(added[25]).toEqual([0, 0]);
    }
  });

  it('lets that die away as the partial does', () => {
    const half = peak.map((x) => x / 2);
    const [first, last] = [-size, 0].map((at) => addedBy(bridgeOf(peak, half), at)[12]);
    expect(last[0] / first[0]).toBeCloseTo(0.5, 9);
    expect(last[1] / first[1]).toBeCloseTo(0.5, 9);
  });

  it('adds nothing to what begins at the attack, nor where nothing differs', () => {
    const tenth = peak.map((x) => x / 10);
    expect(bridgeOf(tenth, peak)).toBeUndefined();
    expect(bridgeOf(peak, peak, 0)).toBeUndefined();
  });

  it.each([
    // As strong as the bin next to it, or the next but one, but for rounding.
    (step: number) => bridgeOf(...twice(shape((k) => (k === 13 ? 1 + step : peak[k])))),
    (step: number) => bridgeOf(...twice(shape((k) => (k === 14 ? 1 + step : peak[k])))),
    // As much louder after the attack as is believed, but for rounding.
    (step: number) =>
      bridgeOf(
        peak,
        peak.map((x) => x * 1.1988 * (1 + step)),
      ),
    // As far off as is left, but for rounding.
    (step: number) => bridgeOf(peak, peak, 0.020001 + step),
  ])('never turns on what is rounded (%#)', (bridged) => {
    const [less, more] = [-1e-7, 1e-7].map((step) => addedBy(bridged(step), -size));
    for (let k = 9; k <= 11; k++)
      for (let part = 0; part < 2; part++)
        expect(Math.abs(less[k][part] - more[k][part])).toBeLessThan(1e-4);
  });
});

const twice = (x: readonly number[]): [readonly number[], readonly number[]] => [x, x];
