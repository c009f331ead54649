import { describe, expect, it } from 'vitest';
import { makeTimeMap, mapTime } from '../../shared/time/time-map.ts';
import { WarpStream } from '../../shared/warp/warp-stream.ts';

const rate = 44100;
/** So far apart (s) that the two lower bands keep one of them, the high one both. */
const struck = [1, 1.012];

/** Two strokes close to each other, the second of them louder. */
const strokes = Float32Array.from({ length: 2 * rate }, (_, i) =>
  struck.reduce((sum, from, k) => {
    const t = i / rate - from;
    const tone = (hertz: number) => Math.sin(2 * Math.PI * hertz * (1 + 0.2 * k) * t);
    return t < 0
      ? sum
      : sum + (k + 1) * 0.1 * Math.exp(-8 * t) * (tone(500) + tone(2500) + tone(7000));
  }, 0),
);

describe('of two attacks of which one can be kept', () => {
  it.each([0, 1])('the one that an anchor stands for lands where it says: stroke %i', (meant) => {
    const map = makeTimeMap([
      { from: 0, to: 0 },
      { from: struck[meant], to: 0.7 * struck[meant] },
      { from: 2, to: 0.7 * struck[meant] + 1.5 * (2 - struck[meant]) },
    ]);
    const length = Math.round(mapTime(map, 2) * rate);
    const inputs = [{ sampleRate: rate, channels: [strokes] }];
    const stream = new WarpStream(inputs, { map, length, moment: 'heard' });
    const { attacks, bands } = stream.plan;
    stream.close();
    const [first, second] = struck.map((at) =>
      attacks.filter(({ start }) => Math.abs(start / rate - at + 0.002) < 0.003),
    );
    expect([first.length, second.length]).toEqual([1, 1]);
    // Left to how far they stand out, the first would be kept whatever was meant.
    expect(first[0].strength).toBeGreaterThan(1.2 * second[0].strength);
    expect(first[0].strength).toBeLessThan(1.9 * second[0].strength);
    const { start, heard } = [first, second][meant][0];
    for (const { pieces } of bands) {
      const kept = pieces.filter(({ source }) => Math.abs(source / rate - struck[meant]) < 0.02);
      const own = kept.find(({ source }) => source === start);
      expect(own).toBeDefined();
      expect(Math.abs((own?.out ?? 0) + heard - start - 0.7 * struck[meant] * rate)).toBeLessThan(
        0.002 * rate,
      );
    }
    for (const { pieces } of bands.slice(0, 2))
      expect(pieces.filter(({ source }) => Math.abs(source / rate - 1) < 0.03)).toHaveLength(1);
  });
});
