import { describe, expect, it } from 'vitest';
import { makeRandom } from '../../shared/math/random.ts';
import { bandsFor } from '../../shared/warp/bands/bands.ts';
import { readerOf } from '../../shared/warp/bands/reader.ts';
import { BandSource } from '../../shared/warp/bands/source.ts';
import { BandSplitter } from '../../shared/warp/bands/splitter.ts';
import { Workspace } from '../../shared/warp/bands/workspace.ts';
import { Surroundings } from '../../shared/warp/plan/around.ts';
import { Steadiness } from '../../shared/warp/plan/steadiness.ts';

const rate = 44100;
const seconds = 3;

/** Two pairs of channels of notes over soft noise, each of a pitch of its own, split into bands. */
function leadOf(notes: readonly { from: number; hertz: number }[]) {
  const random = makeRandom(4);
  const channels = [0.3, 0.2, 0.1, 0].map((gain) =>
    Float32Array.from({ length: seconds * rate }, (_, i) =>
      notes.reduce(
        (sum, { from, hertz }) => {
          const t = i / rate - from;
          return t < 0 ? sum : sum + gain * Math.exp(-2 * t) * Math.sin(2 * Math.PI * hertz * t);
        },
        0.001 * (random() - 0.5),
      ),
    ),
  );
  const splitter = new BandSplitter(bandsFor(rate));
  const reader = readerOf({ sampleRate: rate, channels });
  const sources = [0, 2].map(
    (channel) => new BandSource(reader, channel, splitter, 4 * rate * seconds, 2, new Workspace()),
  );
  return { splitter, strips: (b: number) => sources.map(({ strips }) => strips[b]) };
}

const begins = [0.4, 1.1, 1.9];

describe('Surroundings', () => {
  const { splitter, strips } = leadOf(begins.map((from, n) => ({ from, hertz: 220 + 170 * n })));

  it.each([0, 1])('are the same plain and by SIMD in band %i', (b) => {
    const make = (plain: boolean) =>
      new Surroundings(splitter.bands[b], strips(b), splitter.padding, plain);
    const [slow, fast] = [make(true), make(false)];
    for (const moment of [0, 100, ...begins.map((t) => t * rate), seconds * rate - 50]) {
      const around = slow.at(moment);
      expect(Math.max(...around.after)).toBeGreaterThan(0);
      expect(fast.at(moment)).toEqual(around);
      expect(fast.wideAt(moment)).toEqual(slow.wideAt(moment));
      expect(fast.newnessAt(moment)).toBe(slow.newnessAt(moment));
    }
  });

  it('tell where something begins', () => {
    const around = new Surroundings(splitter.bands[0], strips(0), splitter.padding);
    for (const t of begins) expect(around.newnessAt(t * rate)).toBeGreaterThan(0.3);
    for (const t of [0.7, 1.5, 2.4]) expect(around.newnessAt(t * rate)).toBeLessThan(0.1);
  });
});

describe('Steadiness', () => {
  const { splitter, strips } = leadOf(begins.map((from, n) => ({ from, hertz: 220 + 170 * n })));

  it('is the same plain and by SIMD', () => {
    const make = (plain: boolean) => {
      const steadiness = new Steadiness(splitter.bands[0], strips(0), splitter.padding, plain);
      steadiness.advance(seconds * rate);
      return steadiness;
    };
    const [slow, fast] = [make(true), make(false)];
    for (const [from, to] of [
      [0, seconds],
      [0.4, 1.1],
      [1.1, 1.2],
    ])
      expect(fast.between(from * rate, to * rate)).toEqual(slow.between(from * rate, to * rate));
    expect(fast.between(1.1 * rate, 1.9 * rate).usual).toBeGreaterThan(0.9);
  });
});
