import { describe, expect, it } from 'vitest';
import { hearOnsets } from '../../shared/hear/onsets/onsets.ts';
import type { Cents, Hertz, Seconds } from '../../shared/math/units.ts';

const rate = 44100;

interface Held {
  readonly at: Seconds;
  readonly until: Seconds;
  readonly hertz: Hertz;
}

/** Held tones of eight partials that sway in pitch, and as much in loudness. */
function sung(tones: readonly Held[], seconds: Seconds, sway: { hertz: Hertz; cents: Cents }) {
  const samples = new Float32Array(seconds * rate);
  for (const { at, until, hertz } of tones) {
    let turn = 0;
    for (let i = Math.round(at * rate); i < until * rate; i++) {
      const t = i / rate;
      const swing = Math.sin(2 * Math.PI * sway.hertz * t);
      turn += (2 * Math.PI * hertz * 2 ** ((sway.cents * swing) / 1200)) / rate;
      let x = 0;
      for (let p = 1; p <= 8; p++) x += Math.sin(p * turn) / p ** 1.5;
      const edge = Math.min(1, (t - at) / 0.02, (until - t) / 0.04);
      samples[i] += 0.15 * x * edge * (1 + 0.2 * swing);
    }
  }
  return { sampleRate: rate, channels: [samples] };
}

const times = (...given: Parameters<typeof sung>) =>
  hearOnsets(sung(...given)).map((onset) => onset.time);

describe('a tone with vibrato', () => {
  // Rates and extents of singers and strings: Sundberg 1987 and others, from memory.
  for (const sway of [
    { hertz: 4.8, cents: 25 },
    { hertz: 5.5, cents: 40 },
    { hertz: 6.5, cents: 80 },
  ])
    it(`begins once: ${sway.hertz} Hz, ${sway.cents} cents`, () => {
      const found = times([{ at: 0.5, until: 9.5, hertz: 440 }], 10, sway);
      expect(found.length).toBe(1);
      expect(Math.abs(found[0] - 0.5)).toBeLessThan(0.02);
    });

  it('does not hide the next tone, a step away or more', () => {
    const tones = [440, 494, 587, 440, 392].map((hertz, n) => ({
      at: 0.5 + 1.5 * n,
      until: 2.01 + 1.5 * n,
      hertz,
    }));
    const found = times(tones, 9, { hertz: 5.5, cents: 40 });
    for (const { at } of tones)
      expect(found.filter((time) => Math.abs(time - at) < 0.03).length).toBe(1);
    expect(found.length).toBeLessThanOrEqual(tones.length + 1);
  });
});

it('a note that is struck again and again, as quickly as a vibrato, is heard each time', () => {
  const samples = new Float32Array(6 * rate);
  const struck = Array.from({ length: 30 }, (_, n) => 0.3 + n / 6);
  for (const at of struck)
    for (let i = 0; i < rate / 2; i++) {
      const t = i / rate;
      let x = 0;
      for (let p = 1; p <= 8; p++)
        x += (Math.sin(2 * Math.PI * 330 * p * t) / p) * Math.exp(-t * (6 + 2 * p));
      const to = Math.round(at * rate) + i;
      if (to < samples.length) samples[to] += 0.2 * x * Math.min(1, t / 0.001);
    }
  const found = hearOnsets({ sampleRate: rate, channels: [samples] }).map((onset) => onset.time);
  for (const at of struck) expect(found.some((time) => Math.abs(time - at) < 0.01)).toBe(true);
});
