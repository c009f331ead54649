import { describe, expect, it } from 'vitest';
import { hearOnsets } from '../../shared/hear/onsets/onsets.ts';
import { makeRandom } from '../../shared/math/random.ts';
import { trigamma } from '../../shared/math/trigamma.ts';
import type { Seconds } from '../../shared/math/units.ts';

const rate = 44100;

/** Gaussian noise (Box and Muller 1958) of deviation 1; `brown` has 6 dB less with each octave from 100 Hz on. */
function noise(seconds: Seconds, seed: number, brown = false): Float32Array {
  const random = makeRandom(seed);
  const keep = brown ? Math.exp((-2 * Math.PI * 100) / rate) : 0;
  let last = 0;
  return Float32Array.from({ length: seconds * rate }, () => {
    const x = Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
    last = keep * last + Math.sqrt(1 - keep * keep) * x;
    return last;
  });
}

/** Plucked tones over a noise that is `quiet` of the loudest. */
function plucked(sound: Float32Array, quiet: number, plucks: readonly [Seconds, number][]) {
  const out = sound.map((x) => x * quiet);
  for (const [time, loud] of plucks)
    for (let i = 0; i < rate; i++) {
      const t = i / rate;
      const at = Math.round(time * rate) + i;
      let x = 0;
      for (let p = 1; p <= 8; p++)
        x += (Math.sin(2 * Math.PI * 220 * p * t) / p) * Math.exp(-t * (4 + p));
      if (at < out.length) out[at] += loud * 0.3 * x * Math.min(1, t / 0.001);
    }
  return out;
}

const times = (samples: Float32Array) =>
  hearOnsets({ sampleRate: rate, channels: [samples] }).map((onset) => onset.time);

describe('steady noise', () => {
  for (const [name, brown] of [
    ['white', false],
    ['brown', true],
  ] as const)
    it(`alone has no attacks: ${name}`, () => {
      expect(times(noise(20, 7, brown).map((x) => 0.1 * x))).toEqual([]);
    });

  it('before, between and after notes has none either, and hides no note', () => {
    const notes: [Seconds, number][] = [
      [6, 0.8],
      [6.5, 0.5],
      [7, 0.9],
      [12, 0.4],
    ];
    const found = times(plucked(noise(18, 3), 0.02, notes));
    for (const [at] of notes) expect(found.some((time) => Math.abs(time - at) < 0.005)).toBe(true);
    // While a note dies away into the noise some of it may still be taken for an attack.
    for (const time of found)
      expect(notes.some(([at]) => time > at - 0.005 && time < at + 1)).toBe(true);
  });

  it('does not hide a short knock', () => {
    const samples = noise(12, 5).map((x) => 0.02 * x);
    const at = 5.2 * rate;
    for (let i = 0; i < 400; i++) samples[at + i] += 0.5 * Math.sin(i / 3) * Math.exp(-i / 100);
    const found = times(samples);
    expect(found.length).toBe(1);
    expect(found[0]).toBeCloseTo(5.2, 2);
  });
});

it('trigamma has its known values (Abramowitz and Stegun 6.4.2, 6.4.4) and its recurrence', () => {
  expect(trigamma(1)).toBeCloseTo(Math.PI ** 2 / 6, 9);
  expect(trigamma(0.5)).toBeCloseTo(Math.PI ** 2 / 2, 9);
  for (const x of [0.3, 1.7, 9, 40])
    expect(trigamma(x + 1)).toBeCloseTo(trigamma(x) - 1 / (x * x), 9);
});
