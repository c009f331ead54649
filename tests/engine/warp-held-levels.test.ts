import { describe, expect, it } from 'vitest';
import type { Audio } from '../../shared/take/audio.ts';
import { makeTimeMap } from '../../shared/time/time-map.ts';
import { measureDecay } from '../../shared/warp/plan/decay.ts';
import { warp } from '../../shared/warp/warp.ts';
import { WarpStream } from '../../shared/warp/warp-stream.ts';

const rate = 44100;

/** A note from `at` on that falls by `fall` dB a second, with a click at its start. */
function struck(to: Float32Array, at: number, hertz: number, fall: number, level: number): void {
  for (let i = Math.round(at * rate); i < to.length; i++) {
    const t = i / rate - at;
    const partial = (n: number): number => Math.sin(2 * Math.PI * hertz * n * t) / n;
    const gain = level * 10 ** ((-fall * t) / 20) * Math.min(1, t * 500);
    to[i] += gain * (partial(1) + partial(2) + partial(3));
    if (t < 0.002) to[i] += level * Math.sin(2 * Math.PI * 5000 * t) * (1 - t * 500);
  }
}

/** A low note that is held while others begin every half second. */
function held(fall: number): { mix: Audio; low: Audio; rest: Audio } {
  const [low, rest] = [new Float32Array(4 * rate), new Float32Array(4 * rate)];
  struck(low, 0.5, 196, fall, 0.2);
  for (const at of [1, 1.5, 2, 2.5, 3]) struck(rest, at, 523, 25, 0.15);
  const audio = (samples: Float32Array): Audio => ({ sampleRate: rate, channels: [samples] });
  return { mix: audio(low.map((v, i) => v + rest[i])), low: audio(low), rest: audio(rest) };
}

/** Everything twice as fast, or half as fast again. */
const mapBy = (ratio: number) =>
  makeTimeMap([0.5, 1, 1.5, 2, 2.5, 3, 3.5].map((from) => ({ from, to: from * ratio })));

const level = (samples: Float32Array, from: number, to: number): number => {
  let sum = 0;
  for (let i = Math.round(from * rate); i < Math.round(to * rate); i++) sum += samples[i] ** 2;
  return 10 * Math.log10(sum / ((to - from) * rate));
};

describe('held levels', () => {
  it.each([0.6, 1.5])('keeps a held note near the level of its age, at %f', (ratio) => {
    const fall = 12;
    const { low, rest } = held(fall);
    const [out] = warp([low, rest], mapBy(ratio), Math.round(4 * ratio * rate));
    const start = 0.5 * ratio;
    const fresh = level(low.channels[0], 0.55, 0.65);
    let worst = 0;
    let copied = 0;
    // In the middle between attacks: from the second on, since a rate of fall is only known then.
    for (const from of [1.5, 2, 2.5]) {
      const at = from * ratio + 0.1;
      const wanted = fresh - fall * (at - start - 0.1);
      worst = Math.max(worst, Math.abs(level(out.channels[0], at - 0.05, at + 0.05) - wanted));
      const plain = level(low.channels[0], from + 0.05, from + 0.15);
      copied = Math.max(copied, Math.abs(plain - wanted));
    }
    expect(copied).toBeGreaterThan(7);
    expect(worst).toBeLessThan(copied / 2);
  });

  it('raises what is held and leaves what begins', () => {
    const { mix } = held(12);
    const stream = new WarpStream([mix], {
      map: mapBy(0.6),
      length: Math.round(2.4 * rate),
      moment: 'set off',
    });
    const { band, pieces } = stream.plan.bands[0];
    stream.close();
    const { gains } = pieces[pieces.length - 2];
    const at = (hertz: number): number =>
      gains?.[Math.round((hertz * band.decimation * 2 * (gains.length - 1)) / rate)] ?? 0;
    expect(at(196)).toBeGreaterThan(4);
    expect(at(523)).toBeLessThan(2);
  });

  it('stays as recorded where time runs as it did', () => {
    const { mix } = held(12);
    const stream = new WarpStream([mix], {
      map: makeTimeMap([
        { from: 0, to: 0 },
        { from: 3, to: 3 },
        { from: 4, to: 5 },
      ]),
      length: 5 * rate,
      moment: 'set off',
    });
    for (const { pieces } of stream.plan.bands)
      for (const { gains, source } of pieces)
        if (source < 2.9 * rate) expect(gains).toBeUndefined();
    stream.close();
  });

  it('tells a rise from a fall', () => {
    const frames = (levels: readonly number[]) => ({
      hop: 64,
      count: levels.length,
      width: 1,
      power: Float32Array.from(levels, (l) => 10 ** (l / 10)),
      split: [0, 1],
    });
    const falls = Array.from({ length: 700 }, (_, f) => (-10 * f * 64) / rate);
    const rises = falls.map((l, f) => (f > 350 ? l + 6 : l));
    const of = (levels: readonly number[]) =>
      measureDecay(frames(levels), 0, 0, 700 * 64, rate).risen;
    expect(of(falls)).toBeLessThan(0.01);
    expect(of(rises)).toBeGreaterThan(4);
  });
});
