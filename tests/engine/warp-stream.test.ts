import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { lastingKernels } from '../../shared/math/kernel-fft.ts';
import { makeRandom } from '../../shared/math/random.ts';
import { type Audio, lengthOf } from '../../shared/take/audio.ts';
import { makeTimeMap, mapTime, type TimeMap } from '../../shared/time/time-map.ts';
import { bandsFor } from '../../shared/warp/bands/bands.ts';
import { readerOf } from '../../shared/warp/bands/reader.ts';
import { BandSource } from '../../shared/warp/bands/source.ts';
import { BandSplitter } from '../../shared/warp/bands/splitter.ts';
import { Workspace } from '../../shared/warp/bands/workspace.ts';
import { warp, warpBlocks } from '../../shared/warp/warp.ts';
import { WarpStream } from '../../shared/warp/warp-stream.ts';

const rate = 8000;

/** Struck tones over hiss, seeded. */
function playing(seed: number, seconds: number, channels: number): Audio {
  const random = makeRandom(seed);
  const length = Math.round(seconds * rate);
  const strokes = Array.from({ length: Math.ceil(seconds * 2) }, () => ({
    at: random() * seconds,
    hertz: 100 + 900 * random(),
  }));
  const out = Array.from({ length: channels }, () => new Float32Array(length));
  for (const { at, hertz } of strokes)
    for (let i = Math.ceil(at * rate); i < Math.min(length, (at + 1) * rate); i++) {
      const t = i / rate - at;
      for (const [c, channel] of out.entries())
        channel[i] += 0.2 * Math.exp(-5 * t) * Math.sin(2 * Math.PI * hertz * t + c);
    }
  for (const channel of out)
    for (let i = 0; i < length; i++) channel[i] += 0.002 * (random() - 0.5);
  return { sampleRate: rate, channels: out };
}

const ratios = fc.array(fc.double({ min: 0.25, max: 4, noNaN: true }), {
  minLength: 2,
  maxLength: 8,
});

/** Anchors half a second apart in the source, from 0.1 s on. */
function mapOf(slopes: readonly number[]): TimeMap {
  const anchors = [{ from: 0.1, to: 0.2 }];
  for (const slope of slopes) {
    const last = anchors[anchors.length - 1];
    anchors.push({ from: last.from + 0.5, to: last.to + 0.5 * slope });
  }
  return makeTimeMap(anchors);
}

/** Bit for bit; far faster than the test runner's own comparison. */
function same(a: Float32Array, b: Float32Array): boolean {
  return a.length === b.length && a.every((v, i) => v === b[i]);
}

function readInSteps(
  inputs: readonly Audio[],
  map: TimeMap,
  length: number,
  steps: readonly number[],
): Audio[] {
  const stream = new WarpStream(inputs, { map, length, moment: 'set off' });
  const outputs = inputs.map(({ sampleRate, channels }) => ({
    sampleRate,
    channels: channels.map(() => new Float32Array(length)),
  }));
  for (let at = 0, i = 0; at < length; i++) {
    const until = Math.min(length, at + steps[i % steps.length]);
    const from = at;
    stream.read(outputs.map(({ channels }) => channels.map((c) => c.subarray(from, until))));
    at = until;
  }
  return outputs;
}

describe('WarpStream', () => {
  it('gives the same samples bit for bit, wherever it is cut and resumed', () => {
    fc.assert(
      fc.property(
        ratios,
        fc.integer({ min: 1, max: 1000 }),
        fc.integer({ min: 1, max: 3 }),
        fc.array(fc.integer({ min: 1, max: 9000 }), { minLength: 1, maxLength: 5 }),
        (slopes, seed, channels, steps) => {
          const map = mapOf(slopes);
          const inputs = [playing(seed, 4, channels), playing(seed + 1, 4, channels)];
          const length = Math.round(mapTime(map, 4) * rate);
          const whole = warp(inputs, map, length);
          const stepped = readInSteps(inputs, map, length, steps);
          for (const [i, { channels: expected }] of whole.entries())
            for (const [c, channel] of expected.entries())
              expect(same(stepped[i].channels[c], channel)).toBe(true);
        },
      ),
      { numRuns: 4, seed: 42 },
    );
  });

  it('renders a take longer than it keeps as it renders one that it keeps', () => {
    // 40 s are split anew after planning, and twice for the stems; the first 10 s of both takes are alike.
    const long = playing(3, 40, 1);
    const map = makeTimeMap([
      { from: 1, to: 1 },
      { from: 4, to: 5 },
      { from: 9, to: 8 },
    ]);
    const start = { ...long, channels: [long.channels[0].slice(0, 20 * rate)] };
    // What is loudest sets the scale of attack finding; it must be in both.
    for (const { channels } of [long, start])
      for (let i = 0; i < 200; i++) channels[0][i] += 0.9 * Math.sin(i);
    const [a] = warp([long], map, 39 * rate);
    const [b] = warp([start], map, 19 * rate);
    const until = 15 * rate;
    expect(same(a.channels[0].subarray(0, until), b.channels[0].subarray(0, until))).toBe(true);
  });

  it('renders the same in memory that other warps left', () => {
    const workspace = new Workspace();
    const input = playing(6, 3, 2);
    const map = mapOf([1.4, 0.7, 2]);
    const [fresh] = warp([input], map, 3 * rate);
    for (const seed of [1, 2]) {
      warp(
        [playing(seed, 2, 1), playing(seed + 1, 2, 1)],
        mapOf([0.5, 3]),
        2 * rate,
        undefined,
        workspace,
      );
      const [again] = warp([input], map, 3 * rate, undefined, workspace);
      for (const [c, channel] of fresh.channels.entries())
        expect(same(again.channels[c], channel)).toBe(true);
    }
  });

  it('leaves memory of the kernels to the next warp, done or cancelled at any moment', () => {
    const input = playing(7, 2, 2);
    const map = mapOf([1.3, 0.8]);
    const bytes = () => lastingKernels()?.kernel.memory.buffer.byteLength;
    const warped = (last: number) => {
      let calls = 0;
      const progress = () => {
        if (calls++ >= last) throw new Error('cancelled');
      };
      try {
        warp([input], map, 2 * rate, progress);
      } catch {
        return true;
      }
      return false;
    };
    // Long enough for memory to have what a warp asks for at a time.
    for (let n = 0; n < 3; n++) warp([input], map, 2 * rate);
    const before = bytes();
    let cancelled = 0;
    for (let last = 0; warped(last); last++) cancelled++;
    expect(cancelled).toBeGreaterThan(5);
    for (let n = 0; n < 20; n++) warped(n % 4);
    expect(bytes()).toBe(before);
  });

  it('is silent past the end, and stops where its reader stops', () => {
    const input = playing(5, 1, 2);
    const map = mapOf([1.5]);
    const stream = new WarpStream([input], { map, length: 6000, moment: 'set off' });
    const to = [[new Float32Array(7000).fill(1), new Float32Array(7000).fill(1)]];
    stream.read(to);
    expect(to[0][1].subarray(6000)).toEqual(new Float32Array(1000));
    expect(to[0][1].subarray(0, 6000)).toEqual(warp([input], map, 6000)[0].channels[1]);
    let got = 0;
    for (const block of warpBlocks([input], map, 40000)) {
      got += lengthOf(block[0]);
      break;
    }
    expect(got).toBeLessThan(40000);
  });
});

describe('BandSource', () => {
  const splitter = new BandSplitter(bandsFor(rate));

  it('splits every stretch the same, in whatever order it is asked for', () => {
    const reader = readerOf(playing(7, 8, 2));
    const whole = new BandSource(reader, 0, splitter, Number.POSITIVE_INFINITY, 3, new Workspace());
    for (const strip of whole.strips) strip.reach(0, strip.length);
    fc.assert(
      fc.property(
        fc.array(
          fc.record({
            band: fc.integer({ min: 0, max: 2 }),
            at: fc.double({ min: 0, max: 1, noNaN: true }),
            count: fc.integer({ min: 1, max: 5000 }),
          }),
          { minLength: 1, maxLength: 12 },
        ),
        (looks) => {
          const workspace = new Workspace();
          const some = new BandSource(reader, 0, splitter, 2 * splitter.hop, 3, workspace);
          for (const { band, at, count } of looks) {
            const strip = some.strips[band];
            const all = whole.strips[band];
            const first = Math.floor(at * (strip.length - 1));
            const last = Math.min(strip.length, first + count);
            strip.reach(first, last);
            for (const side of ['re', 'im'] as const)
              expect(
                same(
                  strip[side].subarray(first - strip.base, last - strip.base),
                  all[side].subarray(first - all.base, last - all.base),
                ),
              ).toBe(true);
          }
        },
      ),
      { numRuns: 25, seed: 42 },
    );
  });

  it('gives back what it split, to float32 rounding', () => {
    const audio = playing(8, 3, 2);
    const { strips } = new BandSource(
      readerOf(audio),
      0,
      splitter,
      Number.POSITIVE_INFINITY,
      3,
      new Workspace(),
    );
    for (const strip of strips) strip.reach(0, strip.length);
    const out = [new Float32Array(splitter.hop), new Float32Array(splitter.hop)];
    let worst = 0;
    for (let n = 0; (n + 1) * splitter.hop <= lengthOf(audio); n++) {
      splitter.join(strips, n, out[0], out[1]);
      out.forEach((channel, c) => {
        channel.forEach((v, i) => {
          worst = Math.max(worst, Math.abs(v - audio.channels[c][n * splitter.hop + i]));
        });
      });
    }
    expect(worst).toBeLessThan(2e-7);
  });
});
