import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { CUES } from '../../shared/hear/beats/cues.ts';
import type { BeatEvidence } from '../../shared/hear/beats/evidence.ts';
import {
  describeInterval,
  judgeOf,
  RHYTHM_INPUTS,
  rhythmOf,
} from '../../shared/hear/beats/rhythm.ts';
import { commonSalience, saliences } from '../../shared/hear/beats/salience.ts';
import { FIRST_SIGHT, RHYTHM, SALIENCE } from '../../shared/hear/beats/weights.ts';
import { netIn, type PackedPerceptron, Perceptron } from '../../shared/hear/perceptron.ts';
import { fromBase64 } from '../../shared/math/base64.ts';
import { KernelRoom, ownKernels } from '../../shared/math/kernel.ts';
import { packedBytes } from '../../shared/math/packed-bytes.ts';
import { makeRandom } from '../../shared/math/random.ts';

/** Onsets at random, moved by some seconds, drawn out, and transposed. */
function onsets(seed: number, moved = 0, drawn = 1, semitones = 0): BeatEvidence {
  const random = makeRandom(seed);
  const n = 30;
  let at = 0.4;
  const times = Float64Array.from({ length: n }, () => {
    at += 0.05 + 0.6 * random() ** 2;
    return moved + at * drawn;
  });
  const cues = Float64Array.from({ length: n * CUES }, () => 4 * random() - 2);
  const plain = Float64Array.from({ length: n * 12 }, () => random() ** 4);
  const fresh = plain.map((_, k) => plain[k - (k % 12) + (((k % 12) + 12 - semitones) % 12)]);
  return { seconds: moved + at * drawn + 1, times, clarity: 1, cues, fresh };
}

const seeds = fc.integer({ min: 1, max: 1e6 });

describe('a packed perceptron', () => {
  test('answers as its definition says', () => {
    fc.assert(
      fc.property(seeds, (seed) => {
        const random = makeRandom(seed);
        const number = () => 2 * random() - 1;
        const sizes = [5, 4, 3, 1];
        const bytes = sizes.slice(1).map((units, l) => {
          return Int8Array.from({ length: units * sizes[l] }, () => Math.round(127 * number()));
        });
        const packed: PackedPerceptron = {
          mean: Array.from({ length: 5 }, number),
          spread: Array.from({ length: 5 }, () => 0.5 + random()),
          layers: bytes.map((weights, l) => ({
            weights: Buffer.from(weights.buffer).toString('base64'),
            steps: Array.from({ length: sizes[l + 1] }, () => 0.02 * random()),
            biases: Array.from({ length: sizes[l + 1] }, number),
          })),
        };
        const x = Float32Array.from({ length: 7 }, () => 9 * number());
        let values = packed.mean.map((mean, c) =>
          Math.min(5, Math.max(-5, (x[2 + c] - mean) / packed.spread[c])),
        );
        packed.layers.forEach(({ steps, biases }, l) => {
          const before = values;
          values = steps.map((step, u) => {
            const sum = before.reduce(
              (s, v, c) => s + bytes[l][u * before.length + c] * step * v,
              0,
            );
            return l === 2 ? sum + biases[u] : Math.max(0, sum + biases[u]);
          });
        });
        expect(new Perceptron(packed).odds(x, 2)).toBeCloseTo(values[0], 9);
      }),
      { seed: 1, numRuns: 30 },
    );
  });

  test('is the same to the last bit by kernels, and so is what it is unpacked from', () => {
    const kernel = ownKernels();
    if (!kernel) throw new Error('no kernels');
    const room = new KernelRoom(kernel);
    const random = makeRandom(6);
    for (const packed of [FIRST_SIGHT, SALIENCE, RHYTHM]) {
      const plain = new Perceptron(packed);
      const fast = netIn(kernel, room, plain);
      const x = Float32Array.from({ length: 3 * plain.inputs }, () => 6 * random() - 3);
      for (const at of [0, 7, 2 * plain.inputs]) {
        expect(fast.odds(x, at)).toBe(plain.odds(x, at));
        expect([...fast.hidden(x, at)]).toEqual([...plain.hidden(x, at)]);
      }
      for (const { weights } of packed.layers)
        expect(packedBytes(weights)).toEqual(new Int8Array(fromBase64(weights).buffer));
    }
    for (const text of ['AAECAw==', 'AAEC', '+/8=', 'zZ09'])
      expect(packedBytes(text)).toEqual(new Int8Array(Buffer.from(text, 'base64')));
  });

  test('the taught ones have a weight for all that they are told', () => {
    for (const { mean, spread, layers } of [FIRST_SIGHT, SALIENCE, RHYTHM]) {
      expect(spread).toHaveLength(mean.length);
      let inputs = mean.length;
      for (const { weights, steps, biases } of layers) {
        expect(Buffer.from(weights, 'base64')).toHaveLength(inputs * steps.length);
        expect(biases).toHaveLength(steps.length);
        inputs = steps.length;
      }
      expect(inputs).toBe(1);
    }
    expect(RHYTHM.mean).toHaveLength(RHYTHM_INPUTS);
  });
});

describe('what is like a beat', () => {
  test('is the same in another key and later in the take', () => {
    fc.assert(
      fc.property(
        seeds,
        fc.integer({ min: 1, max: 11 }),
        fc.double({ min: 0.1, max: 50, noNaN: true }),
        (seed, semitones, moved) => {
          const [plain, other] = [onsets(seed), onsets(seed, moved, 1, semitones)];
          const [a, b] = [plain, other].map((one) => saliences(one, commonSalience()));
          for (let i = 0; i < a.length; i++) expect(b[i]).toBeCloseTo(a[i], 3);
          for (const [first, last] of [
            [0, 2],
            [3, 9],
            [12, 15],
          ])
            for (const parts of [1, 2, 3]) {
              const [own, others] = [plain, other].map((one) => {
                const [start, end] = [one.times[first], one.times[last]];
                return rhythmOf(one)({ first, last, start, end, parts });
              });
              expect(others).toBeCloseTo(own, 2);
            }
        },
      ),
      { seed: 2, numRuns: 30 },
    );
  });

  test('an interval looks the same at any tempo but for its length', () => {
    fc.assert(
      fc.property(seeds, fc.double({ min: 0.5, max: 2, noNaN: true }), (seed, drawn) => {
        const odds = Float64Array.from({ length: 30 }, (_, i) => Math.sin(i * seed));
        const [a, b] = [1, drawn].map((by) => {
          const one = onsets(seed, 0, by);
          const out = new Float32Array(RHYTHM_INPUTS);
          const [start, end] = [one.times[6], one.times[11]];
          describeInterval(one, odds, { first: 6, last: 11, start, end, parts: 2 }, out);
          return out;
        });
        expect(b[0] - a[0]).toBeCloseTo(Math.log(drawn), 5);
        for (let c = 1; c < RHYTHM_INPUTS; c++) expect(b[c]).toBeCloseTo(a[c], 5);
      }),
      { seed: 3, numRuns: 50 },
    );
  });
});

describe('the rhythm of an interval', () => {
  test('is judged by kernels as without them, to the last bit', () => {
    fc.assert(
      fc.property(seeds, (seed) => {
        const evidence = onsets(seed);
        const { times } = evidence;
        const random = makeRandom(seed);
        const odds = times.map(() => 8 * random() - 4);
        const fast = judgeOf(evidence, odds);
        const plain = judgeOf(evidence, odds, null);
        for (let first = -1; first < 20; first += 3)
          for (let last = first + 1; last < first + 9; last++)
            for (let parts = 1; parts <= 3; parts++) {
              const start = first < 0 ? times[0] - 0.2 : times[first];
              const interval = { first, last, start, end: times[last] + 0.001 * (seed % 3), parts };
              expect(fast(interval)).toBe(plain(interval));
            }
      }),
      { seed: 2, numRuns: 20 },
    );
  });
});
