import { describe, expect, it } from 'vitest';
import { readAtSpeed, resample } from '../../shared/math/resample.ts';

/** Level (dB) of a sine of `share` of the signal's Nyquist frequency after conversion, against before. */
function levelOf(share: number, from: number, to: number): number {
  const hertz = (share * from) / 2;
  const x = Float32Array.from({ length: 8000 }, (_, i) =>
    Math.sin((2 * Math.PI * hertz * i) / from),
  );
  const y = resample(x, from, to);
  let power = 0;
  let weight = 0;
  const low = Math.round(y.length * 0.25);
  const high = Math.round(y.length * 0.75);
  for (let i = low; i < high; i++) {
    // Weighed by a Hann window, so that broken periods at the ends don't count.
    const w = Math.sin((Math.PI * (i - low)) / (high - low)) ** 2;
    power += w * y[i] ** 2;
    weight += w;
  }
  return 10 * Math.log10((2 * power) / weight + 1e-20);
}

describe('resample', () => {
  it('passes everything up to 86 % of the lower Nyquist frequency', () => {
    // The figures of its doc comment; the slack covers the measure's own leakage.
    for (const share of [0.01, 0.2, 0.5, 0.75, 0.86]) {
      expect(Math.abs(levelOf(share, 48000, 96000))).toBeLessThan(0.002);
      expect(Math.abs(levelOf((share * 44100) / 48000, 48000, 44100))).toBeLessThan(0.002);
      expect(Math.abs(levelOf(share / 2, 48000, 24000))).toBeLessThan(0.002);
    }
  });

  it('lets nothing fold back from above the lower Nyquist frequency', () => {
    for (const share of [0.502, 0.6, 0.8, 0.97])
      expect(levelOf(share, 48000, 24000)).toBeLessThan(-98);
  });

  it('leaves samples where they are when the speed is 1, and makes no images at twice the rate', () => {
    const x = Float32Array.from(
      { length: 2000 },
      (_, i) => Math.sin(i * 0.3) * Math.cos(i * 0.011),
    );
    const y = readAtSpeed(x, 0, 0.5, 4000);
    // Between passband and Nyquist a half-band kernel does not pass through old samples; sines of 0.3 do.
    for (let i = 200; i < 1800; i++) expect(y[2 * i]).toBeCloseTo(x[i], 4);
    expect(resample(x, 44100, 44100)).toEqual(x);
  });

  it('keeps length in time', () => {
    expect(resample(new Float32Array(44100), 44100, 48000).length).toBe(48000);
    expect(resample(new Float32Array(0), 44100, 48000).length).toBe(0);
  });
});
