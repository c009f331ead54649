import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { makeRandom } from '../../shared/math/random.ts';
import type { Audio } from '../../shared/take/audio.ts';
import { makeTimeMap, mapTime } from '../../shared/time/time-map.ts';
import { bandsFor } from '../../shared/warp/bands/bands.ts';
import { warp } from '../../shared/warp/warp.ts';
import { WarpStream } from '../../shared/warp/warp-stream.ts';

const seconds = 2.4;
const strokes = [0.3, 0.75, 1.1, 1.6, 2];

/** The same struck tones whatever the rate, under 3 kHz, so that every rate can hold them. */
function performance(sampleRate: number): Audio {
  const random = makeRandom(4);
  const tones = strokes.map((at) => ({ at, hertz: 300 + 1500 * random() }));
  const samples = new Float32Array(Math.round(seconds * sampleRate));
  for (const { at, hertz } of tones)
    for (let i = Math.ceil(at * sampleRate); i < samples.length; i++) {
      const t = i / sampleRate - at;
      samples[i] += 0.3 * Math.exp(-7 * t) * Math.sin(2 * Math.PI * hertz * t);
    }
  return { sampleRate, channels: [samples] };
}

const map = makeTimeMap([
  { from: 0.3, to: 0.3 },
  { from: 1.1, to: 1.4 },
  { from: 2, to: 2.1 },
]);

describe('the warp at any rate', () => {
  it('has windows and edges of the same length and place in seconds and hertz, to half an octave', () => {
    const half = Math.SQRT2 + 1e-9;
    fc.assert(
      fc.property(fc.integer({ min: 8000, max: 192000 }), (sampleRate) => {
        const bands = bandsFor(sampleRate);
        const usual = bandsFor(44100);
        bands.forEach((band, b) => {
          const long = (band.window * band.decimation) / sampleRate;
          const ratio = long / ((usual[b].window * usual[b].decimation) / 44100);
          expect(Math.max(ratio, 1 / ratio)).toBeLessThanOrEqual(half);
          // Sums run on powers of two, and a band holds what its rate can.
          expect(Number.isInteger(Math.log2(band.window))).toBe(true);
          expect(Number.isInteger(Math.log2(band.decimation))).toBe(true);
          if (b === 2) return;
          const edge = (band.edge * sampleRate) / (usual[b].edge * 44100);
          expect(Math.max(edge, 1 / edge)).toBeLessThanOrEqual(half);
          expect(band.edge + band.slope).toBeLessThan(0.5 / band.decimation);
        });
      }),
      { numRuns: 200, seed: 42 },
    );
  });

  it('hears the same attacks and plans the same pieces at rates an octave apart', () => {
    const planOf = (sampleRate: number) => {
      const length = Math.round(mapTime(map, seconds) * sampleRate);
      const wish = { map, length, moment: 'set off' } as const;
      return new WarpStream([performance(sampleRate)], wish).plan;
    };
    const usual = planOf(44100);
    expect(usual.attacks.length).toBeGreaterThanOrEqual(strokes.length);
    for (const sampleRate of [22050, 88200, 176400]) {
      const plan = planOf(sampleRate);
      expect(plan.attacks.length).toBe(usual.attacks.length);
      plan.attacks.forEach((attack, i) => {
        const late = attack.heard / sampleRate - usual.attacks[i].heard / 44100;
        expect(Math.abs(late)).toBeLessThan(0.002);
      });
      // The two lower bands hold all of it.
      plan.bands.slice(0, 2).forEach(({ band, pieces }, b) => {
        const other = usual.bands[b];
        expect(pieces.length).toBe(other.pieces.length);
        pieces.forEach((piece, i) => {
          const long = (piece.window * band.decimation) / sampleRate;
          expect(long).toBeCloseTo((other.pieces[i].window * other.band.decimation) / 44100, 9);
        });
      });
    }
  });

  it('lands strokes at anchors where they belong, and cuts the same pieces, from 8 to 192 kHz', () => {
    const ratio = 4;
    const even = makeTimeMap(strokes.map((at) => ({ from: at, to: at * ratio })));
    for (const sampleRate of [
      8000, 11025, 16000, 22050, 32000, 44100, 48000, 64000, 88200, 96000, 176400, 192000,
    ]) {
      const length = Math.round(seconds * ratio * sampleRate);
      const wish = { map: even, length, moment: 'set off' } as const;
      const { pieces } = new WarpStream([performance(sampleRate)], wish).plan.bands[0];
      // Before each stroke its own piece begins, at slope 1; one more where the take ends abruptly.
      expect(pieces.length).toBe(strokes.length + 2);
      strokes.forEach((at, i) => {
        const piece = pieces[i + 1];
        const landed = (piece.out - piece.source) / sampleRate + at;
        expect(Math.abs(landed - at * ratio)).toBeLessThan(1e-4);
        expect(at - piece.source / sampleRate).toBeGreaterThan(0.002);
        expect(at - piece.source / sampleRate).toBeLessThan(0.005);
      });
    }
  });

  it('stretches to four times and a fourth, at the lowest and the highest rate', () => {
    for (const sampleRate of [8000, 192000])
      for (const ratio of [0.25, 4]) {
        const input = performance(sampleRate);
        const even = makeTimeMap(strokes.map((at) => ({ from: at, to: at * ratio })));
        const length = Math.round(seconds * ratio * sampleRate);
        const [output] = warp([input], even, length);
        expect(output.channels[0].length).toBe(length);
        // Every stroke sounds where it was sent, louder than what rings on before it (at a fourth it rings loud).
        const power = (from: number) => {
          const part = output.channels[0].subarray(
            Math.round(from * sampleRate),
            Math.round((from + 0.02) * sampleRate),
          );
          return part.reduce((sum, v) => sum + v * v, 0) / part.length;
        };
        for (const at of strokes)
          expect(power(at * ratio + 0.005)).toBeGreaterThan(1.5 * power(at * ratio - 0.03));
      }
  });
});
