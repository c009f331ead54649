import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { makeRandom } from '../../shared/math/random.ts';
import type { Audio } from '../../shared/take/audio.ts';
import { invertMap, makeTimeMap, mapTime, type TimeMap } from '../../shared/time/time-map.ts';
import { warp } from '../../shared/warp/warp.ts';

const rate = 16000;

/** Struck tones over a hum, seeded, so that there are attacks to keep and partials to hold. */
function playing(seed: number, seconds: number, channels = 2, sampleRate = rate): Audio {
  const random = makeRandom(seed);
  const length = Math.round(seconds * sampleRate);
  const strokes = Array.from({ length: Math.ceil(seconds * 3) }, () => ({
    at: random() * seconds,
    hertz: 150 + 1200 * random(),
    level: 0.05 + 0.3 * random(),
  }));
  return {
    sampleRate,
    channels: Array.from({ length: channels }, (_, c) =>
      Float32Array.from({ length }, (_, i) => {
        const t = i / sampleRate;
        let x = 0.05 * Math.sin(2 * Math.PI * 110 * t + c);
        for (const s of strokes)
          if (t >= s.at)
            x += s.level * Math.exp(-5 * (t - s.at)) * Math.sin(2 * Math.PI * s.hertz * (t - s.at));
        return x + 0.002 * (random() - 0.5);
      }),
    ),
  };
}

/** Maps of one to six segments with ratios from 0.25 to 4. */
const maps = fc
  .array(
    fc.record({
      step: fc.integer({ min: 50, max: 900 }),
      ratio: fc.double({ min: 0.25, max: 4, noNaN: true }),
    }),
    {
      minLength: 1,
      maxLength: 6,
    },
  )
  .map((segments): TimeMap => {
    const anchors = [{ from: 0.1, to: 0.12 }];
    for (const { step, ratio } of segments) {
      const last = anchors[anchors.length - 1];
      anchors.push({ from: last.from + step / 1000, to: last.to + (step / 1000) * ratio });
    }
    return makeTimeMap(anchors);
  });

const runs = { numRuns: 8, seed: 42 };

/** Power of the difference over power, dB. */
function nullOf(a: Float32Array, b: Float32Array): number {
  let d = 0;
  let p = 1e-30;
  for (let i = 0; i < b.length; i++) {
    d += (a[i] - b[i]) ** 2;
    p += b[i] ** 2;
  }
  return 10 * Math.log10(d / p + 1e-30);
}

describe('warp', () => {
  it('has exactly the length asked for and is finite, whatever the map and the input', () => {
    const values = fc.oneof(
      fc.double({ min: -1, max: 1, noNaN: true }),
      fc.constantFrom(0, 1e30, -1e30, 1e-40, 3.4e38),
    );
    fc.assert(
      fc.property(
        maps,
        fc.integer({ min: 0, max: 12000 }),
        fc.array(values, { maxLength: 400 }),
        fc.integer({ min: 1, max: 8 }),
        (map, length, samples, channels) => {
          const wave = Float32Array.from(samples);
          const input = {
            sampleRate: 8000,
            channels: Array.from({ length: channels }, () => wave),
          };
          const [output] = warp([input], map, length);
          expect(output.channels.length).toBe(channels);
          for (const channel of output.channels) {
            expect(channel.length).toBe(length);
            expect(channel.every(Number.isFinite)).toBe(true);
          }
        },
      ),
      runs,
    );
  });

  it('gives the input bit for bit, moved, where every slope is 1', () => {
    const input = playing(1, 1.5);
    const map = makeTimeMap([
      { from: 0.25, to: 0.5 },
      { from: 0.75, to: 1 },
      { from: 1, to: 1.25 },
    ]);
    const [output] = warp([input], map, 2 * rate);
    const moved = new Float32Array(2 * rate);
    moved.set(input.channels[1], rate / 4);
    expect(output.channels[1]).toEqual(moved);
  });

  it('gives what lies before the first bend as recorded, to rounding', () => {
    const input = playing(2, 3);
    const map = makeTimeMap([
      { from: 1.5, to: 1.5 },
      { from: 2, to: 2.2 },
    ]);
    const [output] = warp([input], map, 3 * rate);
    const off = input.channels[0]
      .subarray(0, 1.2 * rate)
      .reduce((most, v, i) => Math.max(most, Math.abs(v - output.channels[0][i])), 0);
    // Bands taken apart and put together again: float32 rounding.
    expect(off).toBeLessThan(1e-6);
  });

  it('is linear: the warps of the parts add up to the warp of the whole', () => {
    fc.assert(
      fc.property(maps, fc.integer({ min: 1, max: 1000 }), (map, seed) => {
        const parts = [playing(seed, 2), playing(seed + 1, 2), playing(seed + 2, 2)];
        const whole: Audio = {
          sampleRate: rate,
          channels: parts[0].channels.map((c, n) =>
            c.map((v, i) => v + parts[1].channels[n][i] + parts[2].channels[n][i]),
          ),
        };
        const length = Math.round(mapTime(map, 2) * rate);
        const outs = warp(parts, map, length);
        const [mix] = warp([whole], map, length);
        const sum = mix.channels[1].map((_, i) =>
          outs.reduce((s, out) => s + out.channels[1][i], 0),
        );
        // The goal: float32 rounding of the parts would alone allow about -140.
        expect(nullOf(sum, mix.channels[1])).toBeLessThan(-100);
      }),
      runs,
    );
  });

  it('takes parts of different widths as it takes them all at the width of the widest', () => {
    fc.assert(
      fc.property(
        maps,
        fc.integer({ min: 1, max: 1000 }),
        fc.constantFrom([1, 2], [2, 1, 1], [3, 1, 2], [4, 1, 3]),
        (map, seed, widths) => {
          const parts = widths.map((width, i) => playing(seed + i, 1.6, width));
          const all = Math.max(...widths);
          const widened = parts.map(({ channels }) => ({
            sampleRate: rate,
            channels: Array.from(
              { length: all },
              (_, c) =>
                channels[channels.length === 1 ? 0 : c] ?? new Float32Array(channels[0].length),
            ),
          }));
          const length = Math.round(mapTime(map, 1.6) * rate);
          const own = warp(parts, map, length);
          const wide = warp(widened, map, length);
          own.forEach(({ channels }, i) => {
            expect(channels.length).toBe(widths[i]);
            for (const [c, channel] of channels.entries())
              expect(nullOf(channel, wide[i].channels[c])).toBeLessThan(-100);
          });
        },
      ),
      runs,
    );
  });

  it('keeps channels together: swapped in gives swapped out, mono stays mono, half stays half', () => {
    fc.assert(
      fc.property(maps, fc.integer({ min: 1, max: 1000 }), (map, seed) => {
        const { channels } = playing(seed, 2);
        const length = Math.round(mapTime(map, 2) * rate);
        const run = (...c: Float32Array[]) =>
          warp([{ sampleRate: rate, channels: c }], map, length)[0].channels;
        const straight = run(channels[0], channels[1]);
        const swapped = run(channels[1], channels[0]);
        expect(nullOf(swapped[1], straight[0])).toBeLessThan(-100);
        expect(nullOf(swapped[0], straight[1])).toBeLessThan(-100);
        const [left, right] = run(channels[0], channels[0]);
        expect(nullOf(right, left)).toBeLessThan(-120);
        const [whole, half] = run(
          channels[0],
          channels[0].map((v) => v / 2),
        );
        expect(
          nullOf(
            half.map((v) => 2 * v),
            whole,
          ),
        ).toBeLessThan(-120);
      }),
      runs,
    );
  });

  it('follows polarity and gain', () => {
    fc.assert(
      fc.property(maps, fc.integer({ min: 1, max: 1000 }), (map, seed) => {
        const input = playing(seed, 2, 1);
        const length = Math.round(mapTime(map, 2) * rate);
        const [plain] = warp([input], map, length);
        for (const gain of [-1, 4, 0.125]) {
          const scaled = { sampleRate: rate, channels: [input.channels[0].map((v) => v * gain)] };
          const [result] = warp([scaled], map, length);
          expect(
            nullOf(
              result.channels[0].map((v) => v / gain),
              plain.channels[0],
            ),
          ).toBeLessThan(-100);
        }
      }),
      { numRuns: 6, seed: 42 },
    );
  });

  it('lands attacks where the map says, there and back again', () => {
    const clicks = [0.5, 1.1, 1.6, 2.3];
    const input: Audio = {
      sampleRate: rate,
      channels: [
        Float32Array.from({ length: 3 * rate }, (_, i) =>
          clicks.reduce((s, at) => {
            const t = i / rate - at;
            return t < 0 ? s : s + 0.5 * Math.exp(-60 * t) * Math.cos(2 * Math.PI * 900 * t);
          }, 0),
        ),
      ],
    };
    const map = makeTimeMap([
      { from: 0.5, to: 0.6 },
      { from: 1.1, to: 1 },
      { from: 2.3, to: 2.9 },
    ]);
    const peaks = (audio: Audio, times: number[]): number[] =>
      times.map((time) => {
        const { channels } = audio;
        let best = 0;
        for (let i = Math.round((time - 0.05) * rate); i < (time + 0.05) * rate; i++)
          if (channels[0][i] > channels[0][best]) best = i;
        return best / rate - time;
      });
    const [there] = warp([input], map, Math.round(3.6 * rate));
    const [back] = warp([there], invertMap(map), 3 * rate);
    const landed = clicks.map((t) => mapTime(map, t));
    // At anchors to the sample; between them by when it was set off, 4 ms before, times the difference in slope.
    peaks(there, landed).forEach((late, i) => {
      expect(Math.abs(late)).toBeLessThan(i === 2 ? 0.003 : 1.5 / rate);
    });
    for (const late of peaks(back, clicks)) expect(Math.abs(late)).toBeLessThan(0.004);
  });

  it('works from 8 to 192 kHz and on one to eight channels', () => {
    for (const [sampleRate, channels] of [
      [8000, 1],
      [22050, 3],
      [48000, 8],
      [96000, 2],
      [192000, 1],
    ]) {
      const input = playing(3, 0.6, channels, sampleRate);
      const map = makeTimeMap([
        { from: 0.1, to: 0.1 },
        { from: 0.5, to: 0.7 },
      ]);
      const length = Math.round(0.8 * sampleRate);
      const [output] = warp([input], map, length);
      const power = (x: Float32Array) => x.reduce((s, v) => s + v * v, 0) / x.length;
      // Same sound, a little longer: its power is that of the input to within 3 dB.
      const ratio = power(output.channels[channels - 1]) / power(input.channels[channels - 1]);
      expect(Math.abs(10 * Math.log10(ratio))).toBeLessThan(3);
    }
  });

  it('is the same each time, reports progress from 0 to 1 and stops where progress throws', () => {
    const input = playing(4, 2);
    const map = makeTimeMap([
      { from: 0.2, to: 0.2 },
      { from: 1.5, to: 2 },
    ]);
    const shares: number[] = [];
    const [first] = warp([input], map, 2 * rate, (share) => shares.push(share));
    const [second] = warp([input], map, 2 * rate);
    expect(second.channels[0]).toEqual(first.channels[0]);
    expect(shares.every((s, i) => s >= 0 && s <= 1 && (i === 0 || s >= shares[i - 1]))).toBe(true);
    expect(shares[shares.length - 1]).toBe(1);
    const stop = new Error('stop');
    expect(() =>
      warp([input], map, 2 * rate, () => {
        throw stop;
      }),
    ).toThrow(stop);
  });

  it('says what is wrong with parts that do not belong together', () => {
    const map = makeTimeMap([]);
    const a = playing(5, 0.2);
    expect(() => warp([a, { ...a, sampleRate: 44100 }], map, 100)).toThrow(/rate/);
    expect(() => warp([a, playing(5, 0.3)], map, 100)).toThrow(/length/);
    expect(warp([], map, 100)).toEqual([]);
    expect(
      warp([{ sampleRate: rate, channels: [new Float32Array(0)] }], map, 10)[0].channels[0],
    ).toEqual(new Float32Array(10));
  });
});
