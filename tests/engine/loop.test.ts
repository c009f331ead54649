import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { NamedSlice } from '../../shared/cut/slice.ts';
import type { Lane, Placement } from '../../shared/loop/lane.ts';
import { loopLength } from '../../shared/loop/length.ts';
import type { LaneMaterial } from '../../shared/loop/material.ts';
import { renderLane } from '../../shared/loop/render.ts';
import { inspectSeam } from '../../shared/loop/seam.ts';
import { makeRandom } from '../../shared/math/random.ts';
import type { Audio } from '../../shared/take/audio.ts';

const rate = 22050;
const beatTimes = [0.5, 1.13, 1.71, 2.36, 3.09, 3.7, 4.26, 4.95, 5.6];

/** Struck, ringing tones at free times: each begins at full level on its very sample. */
function struck(times: readonly number[], seconds: number, seed: number): Audio {
  const random = makeRandom(seed);
  const channel = new Float32Array(Math.round(seconds * rate));
  for (const time of times) {
    const first = Math.round(time * rate);
    const pitch = 180 + 600 * random();
    for (let i = first; i < channel.length; i++) {
      const t = (i - first) / rate;
      channel[i] += 0.3 * Math.exp(-t * 9) * Math.cos(2 * Math.PI * pitch * t);
    }
  }
  return { sampleRate: rate, channels: [channel] };
}

const sum = (a: Audio, b: Audio): Audio => ({
  sampleRate: a.sampleRate,
  channels: a.channels.map((channel, c) => channel.map((x, i) => x + b.channels[c][i])),
});

const low = struck(beatTimes, 6.5, 1);
const high = struck(
  beatTimes.map((t) => t + 0.3),
  6.5,
  2,
);
const mix = sum(low, high);
const slices: NamedSlice[] = beatTimes.slice(0, -1).map((time, i) => ({
  id: `s${i}`,
  start: time - 0.02,
  landing: time,
  end: beatTimes[i + 1] - 0.02,
  by: 'heard',
}));
const material: LaneMaterial = {
  sources: [mix, low, high],
  slices,
  onsets: beatTimes.flatMap((time) => [
    { time, strength: 0.8 },
    { time: time + 0.3, strength: 0.6 },
  ]),
  beats: beatTimes.map((time, i) => ({ time, confidence: 1, count: (i % 4) + 1, by: 'heard' })),
};

const placed = (slice: string, at: number, more: Partial<Placement> = {}): Placement => ({
  id: `${slice}@${at}`,
  slice,
  at,
  length: null,
  semitones: 0,
  cents: 0,
  level: 0,
  direction: 'forwards',
  rings: 'next',
  ...more,
});
const laneOf = (placements: readonly Placement[], more: Partial<Lane> = {}): Lane => ({
  id: 'a',
  name: 'flip A',
  bars: 1,
  beatsPerBar: 4,
  beatUnit: 4,
  bpm: 97,
  steady: 100,
  tighten: 0,
  grid: '16',
  swing: 50,
  source: { kind: 'flip', placements },
  ...more,
});
const nullDb = (a: Audio, b: Audio) => {
  let worst = 0;
  a.channels.forEach((channel, c) => {
    channel.forEach((x, i) => {
      worst = Math.max(worst, Math.abs(x - b.channels[c][i]));
    });
  });
  return 20 * Math.log10(worst + 1e-12);
};

describe('length', () => {
  it('is round(bars * beatsPerBar * 60 / bpm * rate) for any lane', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 1, max: 3 }),
        fc.integer({ min: 1, max: 7 }),
        fc.double({ min: 50, max: 200, noNaN: true }),
        (bars, beatsPerBar, bpm) => {
          const lane = laneOf([placed('s0', 0)], { bars, beatsPerBar, bpm });
          const expected = Math.round(((bars * beatsPerBar * 60) / bpm) * rate);
          expect(loopLength(lane, rate)).toBe(expected);
          for (const output of renderLane(material, lane).outputs)
            expect(output.channels[0].length).toBe(expected);
        },
      ),
      { numRuns: 12 },
    );
  });

  it('refuses a lane of no length or of hours in one sentence', () => {
    expect(() => renderLane(material, laneOf([], { bpm: 0 }))).toThrow(/make no loop/);
    expect(() => renderLane(material, laneOf([], { bars: 0 }))).toThrow(/make no loop/);
    expect(() => renderLane(material, laneOf([], { bars: 100000 }))).toThrow(/make no loop/);
  });
});

describe('flip', () => {
  it('fades a slice in that was cut in the middle of a sound', () => {
    const [cut, whole] = [0.6003, 0.5].map(
      (start): NamedSlice => ({ ...slices[0], start, landing: start }),
    );
    expect(Math.abs(mix.channels[0][Math.round(cut.start * rate)])).toBeGreaterThan(0.02);
    const first = (slice: NamedSlice) =>
      renderLane({ ...material, slices: [slice], beats: [] }, laneOf([placed('s0', 0)])).outputs[0]
        .channels[0][0];
    expect(Math.abs(first(cut))).toBeLessThan(2e-3);
    // The first sample of an attack stays, though nothing leads into it.
    expect(first(whole)).toBe(mix.channels[0][Math.round(0.5 * rate)]);
  });

  it('sets a slice that is only moved on its place bit for bit', () => {
    const at = Math.round(((2 * 60) / 97) * rate);
    const { outputs } = renderLane({ ...material, beats: [] }, laneOf([placed('s3', 2)]));
    const landing = Math.round(slices[3].landing * rate);
    for (let k = 0; k < 5000; k++)
      expect(outputs[0].channels[0][at + k]).toBe(mix.channels[0][landing + k]);
  });

  it('sets the attack of a stretched slice on its place to the sample, in its own shape', () => {
    const at = Math.round(((2 * 60) / 97) * rate);
    const loop = renderLane(material, laneOf([placed('s3', 2)])).outputs[0].channels[0];
    const landing = Math.round(slices[3].landing * rate);
    const own = mix.channels[0].subarray(landing - 100, landing + 200);
    const likeness = (lag: number) => {
      const heard = loop.subarray(at - 100 + lag, at + 200 + lag);
      const dot = (a: Float32Array, b: Float32Array) => a.reduce((p, x, i) => p + x * b[i], 0);
      return dot(own, heard) / Math.sqrt(dot(own, own) * dot(heard, heard));
    };
    expect(likeness(0)).toBeGreaterThan(0.99);
    for (let lag = -8; lag <= 8; lag++) expect(likeness(lag)).toBeLessThanOrEqual(likeness(0));
  });

  it('lets what leads into the first landing sound before the end of the loop', () => {
    const leading = sum(low, {
      sampleRate: rate,
      channels: [new Float32Array(low.channels[0].length)],
    });
    const landing = Math.round(slices[2].landing * rate);
    leading.channels[0][landing - 50] = 0.9;
    const { outputs } = renderLane({ ...material, sources: [leading] }, laneOf([placed('s2', 0)]));
    const loop = outputs[0].channels[0];
    expect(Math.abs(loop[loop.length - 50])).toBeGreaterThan(0.4);
  });

  it('carries a tail that rings out round the seam', () => {
    const { outputs } = renderLane(
      material,
      laneOf([placed('s4', 3.6, { rings: 'out' })], { bpm: 100 }),
    );
    const loop = outputs[0].channels[0];
    expect(Math.max(...loop.subarray(0, 500).map(Math.abs))).toBeGreaterThan(1e-3);
    const cut = renderLane(material, laneOf([placed('s4', 3.6, { length: 0.3 })], { bpm: 100 }))
      .outputs[0].channels[0];
    expect(Math.max(...cut.subarray(0, 500).map(Math.abs))).toBe(0);
  });

  it('is cut off by the next attack, and is silent before it when asked to end', () => {
    const one = renderLane(material, laneOf([placed('s0', 0, { length: 0.5 })])).outputs[0];
    const end = Math.round(((0.5 * 60) / 97) * rate);
    expect(Math.max(...one.channels[0].subarray(end + 2, end + 2000).map(Math.abs))).toBe(0);
  });

  it('plays level, and backwards from its place on', () => {
    const plain = renderLane(material, laneOf([placed('s0', 1)])).outputs[0].channels[0];
    const soft = renderLane(material, laneOf([placed('s0', 1, { level: -6.0206 })])).outputs[0];
    plain.forEach((x, i) => {
      expect(soft.channels[0][i]).toBeCloseTo(x / 2, 5);
    });
    const back = renderLane(material, laneOf([placed('s0', 1, { direction: 'backwards' })]))
      .outputs[0];
    const at = Math.round((60 / 97) * rate);
    const power = (from: number, until: number) =>
      back.channels[0].subarray(from, until).reduce((p, x) => p + x * x, 0);
    expect(power(0, at - 1)).toBe(0);
    expect(power(at + 8000, at + 12000)).toBeGreaterThan(power(at, at + 4000));
  });

  it('passes over slices it does not know', () => {
    const { outputs } = renderLane(material, laneOf([placed('nobody', 0)]));
    expect(Math.max(...outputs[0].channels[0].map(Math.abs))).toBe(0);
  });
});

describe('straight', () => {
  const straight = laneOf([], {
    bars: 2,
    source: { kind: 'straight', from: beatTimes[0], until: beatTimes[8] },
  });

  it('puts every beat on the tempo to the sample', () => {
    const { landings, outputs } = renderLane({ ...material, sources: [low] }, straight);
    expect(outputs[0].channels[0].length).toBe(Math.round(((8 * 60) / 97) * rate));
    beatTimes.slice(0, 8).forEach((time, i) => {
      const at = Math.round(((i * 60) / 97) * rate);
      if (i === 0) return;
      const landing = Math.round(time * rate);
      const found = landings.find((l) => Math.abs(l.source - time) < 1e-6);
      expect(Math.abs((found?.at ?? 0) * rate - at)).toBeLessThan(1);
      // The attack's own samples, with what rang before it under them.
      const jump = outputs[0].channels[0][at] - outputs[0].channels[0][at - 1];
      const wanted = low.channels[0][landing] - low.channels[0][landing - 1];
      expect(jump).toBeCloseTo(wanted, 1);
    });
  });

  it('sounds to its end also when the next slice leads in for a beat and more', () => {
    const lane = laneOf([], {
      source: { kind: 'straight', from: beatTimes[0], until: beatTimes[4] },
    });
    const early = slices.map((slice, i) =>
      i === 4 ? { ...slice, start: beatTimes[3] - 0.1 } : slice,
    );
    const loopOf = (list: readonly NamedSlice[]) =>
      renderLane({ ...material, sources: [low], slices: list }, lane).outputs[0].channels[0];
    const plain = loopOf(slices);
    const led = loopOf(early);
    const until = Math.round(plain.length - 0.04 * rate);
    for (let i = Math.round(plain.length * 0.75); i < until; i++)
      expect(Math.abs(led[i] - plain[i])).toBeLessThan(1e-3);
  });

  it('needs beats', () => {
    expect(() => renderLane({ ...material, beats: [] }, straight)).toThrow(/beats/);
  });
});

describe('stems', () => {
  it.each([
    ['flip', laneOf([placed('s1', 0), placed('s4', 1.5), placed('s2', 2.25, { semitones: 2 })])],
    [
      'straight',
      laneOf([], { bars: 2, tighten: 60, source: { kind: 'straight', from: 0.5, until: 5.6 } }),
    ],
  ])('add up to the mix in a %s lane, under -100 dBFS', (_, lane) => {
    const [whole, a, b] = renderLane(material, lane).outputs;
    expect(nullDb(whole, sum(a, b))).toBeLessThan(-100);
  });
});

describe('seam', () => {
  it('hears a click where the end does not meet the start, and none where it does', () => {
    const sine = (cycles: number) => ({
      sampleRate: rate,
      channels: [
        Float32Array.from(
          { length: rate },
          (_, i) => 0.5 * Math.sin((2 * Math.PI * cycles * i) / rate),
        ),
      ],
    });
    expect(inspectSeam(sine(220), []).verdict).toMatch(/^quiet/);
    expect(inspectSeam(sine(220.25), []).verdict).toMatch(/^clicks/);
  });

  it('measures a level step in decibels', () => {
    const loop = {
      sampleRate: rate,
      channels: [
        Float32Array.from(
          { length: rate },
          (_, i) => (i < rate / 2 ? 0.05 : 0.5) * Math.sin((2 * Math.PI * 220 * i) / rate),
        ),
      ],
    };
    expect(inspectSeam(loop, []).levelStep).toBeCloseTo(-20, 0);
  });
});
