import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { resample } from '../../shared/hear/analysis-rate.ts';
import type { Onset } from '../../shared/hear/heard.ts';
import { hearAttacks, hearOnsets } from '../../shared/hear/onsets/onsets.ts';
import { makeRandom } from '../../shared/math/random.ts';
import type { Audio } from '../../shared/take/audio.ts';

const rate = 44100;

interface Stroke {
  readonly time: number;
  readonly key: number;
  readonly loud: number;
}

/** Struck strings: partials that die away, the high ones sooner, after a knock of 2 ms. */
function strike(strokes: readonly Stroke[], seconds: number, sampleRate = rate): Float32Array {
  const out = new Float32Array(Math.round(seconds * sampleRate));
  strokes.forEach(({ time, key, loud }, n) => {
    const random = makeRandom(n + 1);
    const hertz = 440 * 2 ** ((key - 69) / 12);
    const phases = Array.from({ length: 10 }, random);
    const start = Math.ceil(time * sampleRate);
    const end = Math.min(out.length, start + 2 * sampleRate);
    for (let i = start; i < end; i++) {
      const t = i / sampleRate - time;
      let x = t < 0.002 ? 0.3 * Math.sin(2 * Math.PI * 3100 * t) * (1 - t / 0.002) : 0;
      for (let p = 1; p <= 10 && p * hertz < 10000; p++)
        x +=
          (Math.sin(2 * Math.PI * (p * hertz * t + phases[p - 1])) / p ** 1.3) *
          Math.exp(-t * (1.5 + 0.8 * p));
      out[i] += loud * 0.2 * x * Math.min(1, t / 0.001) * Math.min(1, (end - i) / 400);
    }
  });
  return out;
}

const tune: readonly Stroke[] = [
  [0.31, 60, 0.8],
  [0.62, 64, 0.6],
  [0.93, 67, 0.7],
  [0.98, 48, 0.6],
  [1.5, 72, 0.3],
  [1.71, 71, 0.9],
  [1.92, 36, 0.7],
  [2.4, 55, 0.15],
  [2.8, 76, 0.8],
  [2.85, 79, 0.8],
  [2.9, 84, 0.8],
  [3.5, 41, 0.6],
  [3.9, 62, 0.25],
].map(([time, key, loud]) => ({ time, key, loud }));

const mono = (samples: Float32Array, sampleRate = rate): Audio => ({
  sampleRate,
  channels: [samples],
});
const played = strike(tune, 4.6);
const heard = hearOnsets(mono(played));

function expectSame(one: readonly Onset[], other: readonly Onset[], within: number): void {
  expect(one.length).toBe(other.length);
  one.forEach((onset, i) => {
    expect(Math.abs(onset.time - other[i].time)).toBeLessThan(within);
  });
}

describe('what it hears', () => {
  it('hears every stroke of a tune, within 3 ms, and nothing else', () => {
    expect(heard.length).toBe(tune.length);
    tune.forEach(({ time }, i) => {
      expect(Math.abs(heard[i].time - time)).toBeLessThan(0.003);
    });
  });

  it('tells attacks 40 ms apart from each other', () => {
    const flam = [0.5, 0.54, 1.5, 1.54].map((time, i) => ({ time, key: 60 + 5 * i, loud: 0.7 }));
    expect(hearOnsets(mono(strike(flam, 2.5))).length).toBe(4);
  });

  it('takes attacks 10 ms apart as one', () => {
    const chord = [0.5, 0.505, 0.51].map((time, i) => ({ time, key: 60 + 4 * i, loud: 0.7 }));
    expect(hearOnsets(mono(strike(chord, 2))).length).toBe(1);
  });

  it('hears a soft note under a loud one that rings', () => {
    const strokes = [
      { time: 0.5, key: 55, loud: 1 },
      { time: 1.2, key: 74, loud: 0.06 },
    ];
    expect(hearOnsets(mono(strike(strokes, 2.5))).length).toBe(2);
  });

  it('has all that it is sure of among what is possible, and more only near that', () => {
    const strokes = tune.flatMap((stroke) => [
      stroke,
      { time: stroke.time + 0.045, key: stroke.key + 7, loud: 0.08 * stroke.loud },
    ]);
    const { onsets, possible } = hearAttacks(mono(strike(strokes, 4.6)));
    const times = possible.map(({ time }) => time);
    for (const { time } of onsets) expect(times).toContain(time);
    for (let i = 1; i < times.length; i++) expect(times[i] - times[i - 1]).toBeGreaterThan(0.029);
    for (const time of times)
      expect(onsets.some((onset) => Math.abs(onset.time - time) < 0.08)).toBe(true);
  });

  it('gives the louder of two strokes the greater strength', () => {
    // Each note has died away before the next: what rings masks a part of what is new.
    const strokes = [0.2, 0.5, 1].map((loud, i) => ({ time: 0.2 + 2.05 * i, key: 62, loud }));
    const strengths = hearOnsets(mono(strike(strokes, 5))).map((onset) => onset.strength);
    expect(strengths.length).toBe(3);
    expect(strengths[1]).toBeGreaterThan(strengths[0] + 0.1);
    expect(strengths[2]).toBeGreaterThan(strengths[1] + 0.1);
    expect(strengths[2]).toBe(1);
  });

  it('hears an attack on the first sample and one at the very end', () => {
    const start = hearOnsets(mono(strike([{ time: 0, key: 60, loud: 0.8 }], 1.5)));
    expect(start.length).toBe(1);
    expect(start[0].time).toBeLessThan(0.002);
    const strokes = [
      { time: 0.4, key: 60, loud: 0.8 },
      { time: 1.46, key: 67, loud: 0.8 },
    ];
    const end = hearOnsets(mono(strike(strokes, 1.5)));
    expect(end.length).toBe(2);
    expect(Math.abs(end[1].time - 1.46)).toBeLessThan(0.004);
  });

  it('hears the start, and nothing after it, of steady tones, of vibrato (half a semitone on a sine, a third on a rich tone) and of tremolo', () => {
    const tones: ((t: number) => number)[] = [
      (t) => Math.sin(2 * Math.PI * 440 * t),
      (t) => Math.sin(2 * Math.PI * (330 * t - 0.25 * Math.cos(2 * Math.PI * 6 * t))),
      (t) => Math.sin(2 * Math.PI * 330 * t) * (0.8 + 0.2 * Math.sin(2 * Math.PI * 5 * t)),
      (t) =>
        [1, 2, 3, 4, 5, 6].reduce(
          (sum, p) =>
            sum +
            Math.sin(2 * Math.PI * p * (220 * t - 0.11 * Math.cos(2 * Math.PI * 5.5 * t))) / p,
          0,
        ),
    ];
    for (const tone of tones) {
      const samples = Float32Array.from({ length: 3 * rate }, (_, i) => {
        const t = i / rate;
        return t < 0.5
          ? 0
          : 0.3 * tone(t) * Math.min(1, (t - 0.5) / 0.01) * Math.min(1, (3 - t) / 0.1);
      });
      const onsets = hearOnsets(mono(samples));
      expect(onsets.length).toBe(1);
      expect(Math.abs(onsets[0].time - 0.5)).toBeLessThan(0.01);
    }
  });

  it('takes no shake of up to 20 cents either way for an attack, at any pitch', () => {
    const heard: string[] = [];
    for (const hertz of [98, 147, 196, 262, 392, 587, 831])
      for (const speed of [4.8, 5.7, 6.6]) {
        const swing = (hertz * (2 ** (20 / 1200) - 1)) / speed;
        const samples = Float32Array.from({ length: 3 * rate }, (_, i) => {
          const t = i / rate;
          if (t < 0.5) return 0;
          const turn = 2 * Math.PI * hertz * t - swing * Math.cos(2 * Math.PI * speed * t);
          let x = 0;
          for (let p = 1; p <= 6; p++) x += Math.sin(p * turn) / p;
          // It is let go without a corner, which would be a small attack of its own.
          const end = Math.sin((Math.PI / 2) * Math.min(1, (3 - t) / 0.1)) ** 2;
          return 0.3 * x * Math.min(1, (t - 0.5) / 0.01) * end;
        });
        const onsets = hearOnsets(mono(samples)).map((onset) => onset.time.toFixed(2));
        if (onsets.join() !== '0.50') heard.push(`${hertz} Hz, ${speed} a second: ${onsets}`);
      }
    expect(heard).toEqual([]);
  });

  it('hears soft attacks of 60 ms', () => {
    const samples = new Float32Array(4 * rate);
    [0.5, 1.3, 2.1, 2.9].forEach((time, n) => {
      const hertz = 300 * 1.2 ** n;
      for (let i = 0; i < 0.8 * rate; i++) {
        const t = i / rate;
        let x = 0;
        for (let p = 1; p <= 8; p++) x += Math.sin(2 * Math.PI * p * hertz * t) / p;
        samples[Math.round(time * rate) + i] +=
          0.2 *
          x *
          Math.sin((Math.PI / 2) * Math.min(1, t / 0.06)) ** 2 *
          Math.min(1, (0.8 - t) / 0.1);
      }
    });
    const onsets = hearOnsets(mono(samples));
    expect(onsets.length).toBe(4);
  });
});

describe('what does not matter', () => {
  it('gain', () => {
    for (const gain of [1e-4, 0.03, 4, 1000])
      expectSame(hearOnsets(mono(played.map((x) => x * gain))), heard, 1e-4);
  });

  it('polarity', () => {
    expect(hearOnsets(mono(played.map((x) => -x)))).toEqual(heard);
  });

  it('which side is which, how many channels there are, or that one is turned over', () => {
    const short = played.slice(0, Math.round(1.4 * rate));
    const quiet = strike(tune.slice(0, 4), 1.4).map((x) => 0.7 * x);
    const alone = hearOnsets(mono(short));
    const stereo = hearOnsets({ sampleRate: rate, channels: [short, quiet] });
    expectSame(stereo, alone, 5e-4);
    expectSame(hearOnsets({ sampleRate: rate, channels: [quiet, short] }), stereo, 1e-5);
    const turned = [short, quiet.map((x) => -x)];
    expectSame(hearOnsets({ sampleRate: rate, channels: turned }), stereo, 1e-5);
    expectSame(hearOnsets({ sampleRate: rate, channels: Array(8).fill(short) }), alone, 1e-4);
  });

  it('the rate: 44.1, 48, 88.2, 96 and 192 kHz give the same, within 1 ms', () => {
    const short = tune.filter(({ time }) => time < 0.99);
    const expected = hearOnsets(mono(strike(short, 1.2)));
    expect(expected.length).toBe(short.length);
    for (const other of [48000, 88200, 96000, 192000])
      expectSame(hearOnsets(mono(strike(short, 1.2, other), other)), expected, 0.001);
  });

  it('noise at -80 dBFS', () => {
    const random = makeRandom(4);
    const noisy = played.map((x) => x + 1e-4 * Math.sqrt(3) * (2 * random() - 1));
    expectSame(hearOnsets(mono(noisy)), heard, 0.002);
  });

  it('samples of silence in front, by which everything moves', () => {
    for (const pad of [1, 777, 4410, 30011]) {
      const padded = new Float32Array(pad + played.length);
      padded.set(played, pad);
      const onsets = hearOnsets(mono(padded)).map((onset) => ({
        ...onset,
        time: onset.time - pad / rate,
      }));
      expectSame(onsets, heard, 0.0015);
    }
  });
});

describe('odd recordings', () => {
  it('hears nothing in silence or in nothing', () => {
    expect(hearOnsets(mono(new Float32Array(rate)))).toEqual([]);
    expect(hearOnsets(mono(new Float32Array(0)))).toEqual([]);
    expect(hearOnsets({ sampleRate: rate, channels: [] })).toEqual([]);
  });

  it('takes any rate and length without a fault', () => {
    fc.assert(
      fc.property(
        fc.constantFrom(8000, 11025, 16000, 22050, 32000, 37800, 44100, 192000),
        fc.integer({ min: 1, max: 3000 }),
        fc.integer({ min: 1, max: 8 }),
        (sampleRate, length, channels) => {
          const random = makeRandom(length);
          const noise = Float32Array.from({ length }, () => random() - 0.5);
          const onsets = hearOnsets({ sampleRate, channels: Array(channels).fill(noise) });
          onsets.forEach(({ time, strength }, i) => {
            expect(time).toBeGreaterThanOrEqual(i === 0 ? 0 : onsets[i - 1].time + 0.02);
            expect(time).toBeLessThan(length / sampleRate + 1e-9);
            expect(strength).toBeGreaterThanOrEqual(0);
            expect(strength).toBeLessThanOrEqual(1);
          });
        },
      ),
      { numRuns: 40, seed: 11 },
    );
  });
});

describe('resampling', () => {
  it('keeps a sine in the band and its time', () => {
    for (const from of [8000, 44100, 48000, 96000, 37800]) {
      const sine = Float32Array.from({ length: from }, (_, i) =>
        Math.sin((2 * Math.PI * 700 * i) / from),
      );
      const out = resample(sine, from, 22050);
      for (let i = 2000; i < 20000; i += 97)
        expect(Math.abs(out[i] - Math.sin((2 * Math.PI * 700 * i) / 22050))).toBeLessThan(0.01);
    }
  });
});
