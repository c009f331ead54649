import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { resample, resampleSlowly } from '../../shared/hear/analysis-rate.ts';
import { bandReader, toDoublings } from '../../shared/hear/band-levels.ts';
import { mixForHearing } from '../../shared/hear/hearing-mix.ts';
import { hearingSignal } from '../../shared/hear/hearing-signal.ts';
import { weightedEnergies } from '../../shared/hear/loudness/k-weighting.ts';
import { truePeak } from '../../shared/hear/loudness/true-peak.ts';
import { closeFeatures } from '../../shared/hear/onsets/close-look.ts';
import { taughtEar } from '../../shared/hear/onsets/ear.ts';
import { cellsOf, rowNorms, viewLevels } from '../../shared/hear/onsets/features.ts';
import { likelihoods } from '../../shared/hear/onsets/net.ts';
import { pickAttacks } from '../../shared/hear/onsets/picking.ts';
import { timingsOf } from '../../shared/hear/onsets/timing-net.ts';
import { hearRepeats } from '../../shared/hear/phrases/repeats.ts';
import { chromasOf, forKey, forPassages } from '../../shared/hear/pitch/chroma.ts';
import { hearPartials } from '../../shared/hear/pitch/partials.ts';
import { measured } from '../../shared/hear/pitch/tuning.ts';
import { kernels, ownKernels } from '../../shared/math/kernel.ts';
import { packedRows } from '../../shared/math/packed-bytes.ts';
import { bandPowers, classMagnitudes, eachPowerSpectrum } from '../../shared/math/power-spectra.ts';
import { makeRandom } from '../../shared/math/random.ts';
import { sourceOf } from '../../shared/math/source.ts';
import { sourceOf as bytesOf } from '../../shared/take/byte-source.ts';
import { levelCurve } from '../../shared/take/levels.ts';
import { readWavFrom } from '../../shared/take/wav-read.ts';
import { writeWav } from '../../shared/take/wav-write.ts';

/**
 * Each kernel against the plain loop it stands for. The kernels count in single precision, so what is
 * allowed is a few times its rounding (6e-8) of the largest number involved.
 */

const runs = { seed: 20, numRuns: 25 };
const kernel = kernels();

function noise(length: number, seed = 1): Float32Array {
  const random = makeRandom(seed);
  return Float32Array.from({ length }, () => random() * 2 - 1);
}

/** Plucked notes over soft noise: something for the ear to judge. */
function plucks(seconds: number, rate: number): Float32Array {
  const hiss = noise(Math.round(seconds * rate), 7);
  return hiss.map((x, i) => {
    const t = i / rate;
    const since = t % 0.37;
    const hertz = 110 * 2 ** ((Math.floor(t / 0.37) % 9) / 6);
    return 1e-3 * x + 0.4 * Math.exp(-5 * since) * Math.sin(2 * Math.PI * hertz * since);
  });
}

function worst(a: ArrayLike<number>, b: ArrayLike<number>): number {
  expect(a.length).toBe(b.length);
  let most = 0;
  for (let i = 0; i < a.length; i++) most = Math.max(most, Math.abs(a[i] - b[i]));
  return most;
}

describe('kernels', () => {
  it('are there', () => {
    expect(kernel).not.toBeNull();
  });

  it('resample as a sample at a time does', () => {
    fc.assert(
      fc.property(
        fc.constantFrom(
          [44100, 22050],
          [48000, 22050],
          [96000, 22050],
          [8000, 22050],
          [5, 2],
          [2, 1],
        ),
        fc.integer({ min: 0, max: 60000 }),
        fc.integer(),
        ([from, to], length, seed) => {
          const signal = noise(length, seed);
          const slow = resampleSlowly(signal, from, to);
          expect(worst(resample(signal, from, to), slow)).toBeLessThan(1e-6);
        },
      ),
      runs,
    );
  });

  it('read the same band amplitudes', () => {
    fc.assert(
      fc.property(
        fc.constantFrom(64, 256, 512, 1024),
        fc.integer({ min: 1, max: 40 }),
        fc.integer({ min: 1, max: 600 }),
        fc.integer(),
        (size, hop, count, seed) => {
          const signal = noise(Math.max(1, count * hop - 3), seed);
          const edges = [0, 1, 2, size / 8, size / 4 + 3, size / 2 + 1];
          const fast = new Float32Array((count + 1) * 5);
          const plain = new Float32Array((count + 1) * 5);
          const from = (seed % size) - size;
          bandReader({ size, hop, edges }, kernel)(signal, from, count, fast, 5);
          bandReader({ size, hop, edges }, null)(signal, from, count, plain, 5);
          expect(worst(fast, plain)).toBeLessThan(2e-6);
        },
      ),
      runs,
    );
  });

  it('count the same doublings, from nothing to 100 dB over the floor', () => {
    const fast = Float32Array.from({ length: 40001 }, (_, i) =>
      i === 0 ? 0 : 10 ** (i / 5000 - 6),
    );
    const plain = fast.slice();
    toDoublings(fast, 1000, kernel);
    toDoublings(plain, 1000, null);
    expect(worst(fast, plain)).toBeLessThan(3e-6);
  });

  it('see the same power spectra, whatever their order and place', () => {
    fc.assert(
      fc.property(
        fc.constantFrom(16, 128, 1024, 2048),
        fc.array(fc.integer({ min: -3000, max: 6000 }), { maxLength: 19 }),
        (size, starts) => {
          const source = sourceOf(noise(5000, size));
          const spectra = (by: typeof kernel) => {
            const all: number[] = [];
            eachPowerSpectrum(source, starts, size, size / 2 + 1, (n, p) => all.push(n, ...p), by);
            return all;
          };
          // Powers of noise are about a quarter of the size.
          expect(worst(spectra(kernel), spectra(null))).toBeLessThan(1e-5 * size);
        },
      ),
      runs,
    );
  });

  it('judge cells alike', () => {
    const sound = hearingSignal({ sampleRate: 44100, channels: [plucks(4, 44100)] });
    const cells = cellsOf(sound.whole);
    const plainLevels = viewLevels(sound, null).levels;
    const plain = likelihoods(plainLevels, cells, taughtEar(), null);
    expect(Math.max(...plain)).toBeGreaterThan(0.5);
    expect(worst(likelihoods(plainLevels, cells, taughtEar(), kernel), plain)).toBeLessThan(1e-4);
    const fastLevels = viewLevels(sound, kernel).levels;
    expect(worst(likelihoods(fastLevels, cells, taughtEar(), kernel), plain)).toBeLessThan(1e-3);
  });

  it('look closely at moments and time them alike', () => {
    const sound = hearingSignal({ sampleRate: 44100, channels: [plucks(4, 44100)] });
    const { levels, floor } = viewLevels(sound);
    const curve = likelihoods(levels, cellsOf(sound.whole), taughtEar());
    const times = Array.from({ length: 43 }, (_, i) => 0.09 * i);
    const plain = closeFeatures(times, sound, floor, curve, null);
    expect(worst(closeFeatures(times, sound, floor, curve, kernel), plain)).toBeLessThan(1e-3);
    const slow = timingsOf(plain, null);
    const fast = timingsOf(plain, kernel);
    // A hundredth of a millisecond, where the first layer sums over 1368 products.
    expect(
      worst(
        fast.map((t) => t.offset),
        slow.map((t) => t.offset),
      ),
    ).toBeLessThan(1e-5);
    expect(
      worst(
        fast.map((t) => t.sureness),
        slow.map((t) => t.sureness),
      ),
    ).toBeLessThan(1e-3);
  });

  it('find the same true peak, to 0.001 dB', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 1, max: 40000 }),
        fc.constantFrom(44100, 48000, 96000),
        fc.double({ min: 0.3, max: 3, noNaN: true }),
        (length, sampleRate, turn) => {
          // A tone near a quarter of the rate under a slow swell: its peaks fall between samples.
          const tone = noise(length).map(
            (x, i) => 0.8 * Math.sin(turn * i + 0.4) * Math.sin(i / 900) + 0.1 * x,
          );
          const audio = { sampleRate, channels: [tone, noise(length, 3)] };
          const decibels = 20 * Math.log10(truePeak(audio, kernel) / truePeak(audio, null));
          expect(Math.abs(decibels)).toBeLessThan(0.001);
        },
      ),
      runs,
    );
  });

  it('weigh the same energies in one to six channels', () => {
    for (const channels of [1, 2, 3, 6]) {
      const edges = Float64Array.from({ length: 101 }, (_, i) => Math.round(i * 441.3));
      const audio = {
        sampleRate: 44130,
        channels: Array.from({ length: channels }, (_, c) => noise(44130, c + 1)),
      };
      const plain = weightedEnergies(audio, edges, null);
      const fast = weightedEnergies(audio, edges, kernel);
      // Double precision on both sides.
      expect(worst(fast, plain)).toBeLessThan(1e-9 * Math.max(...plain));
    }
  });

  it('mix two channels to the last bit, whichever runs against the other', () => {
    for (const [seed, turn] of [
      [4, 1],
      [5, -1],
    ]) {
      const left = noise(30011, seed);
      const audio = { sampleRate: 44100, channels: [left, left.map((x) => turn * x * 0.7)] };
      for (const [from, length] of [
        [-50, 20000],
        [29000, 2000],
        [7, 3],
      ]) {
        const fast = new Float32Array(length);
        const plain = new Float32Array(length);
        mixForHearing(audio, ownKernels()).read(fast, from);
        mixForHearing(audio, null).read(plain, from);
        expect(fast).toEqual(plain);
      }
    }
  });

  it('measure the same levels in blocks of any length', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 1, max: 700 }),
        fc.integer({ min: 1, max: 40000 }),
        fc.integer(),
        (block, length, seed) => {
          const audio = { sampleRate: 1000, channels: [noise(length, seed), noise(length, 2)] };
          const fast = levelCurve(audio, block / 1000, kernel);
          const plain = levelCurve(audio, block / 1000, null);
          expect(worst(fast.levels, plain.levels)).toBeLessThan(1e-4);
        },
      ),
      runs,
    );
  });

  it('read the samples of files to the last bit', () => {
    const random = makeRandom(3);
    for (const [tag, bits] of [
      [1, 16],
      [1, 24],
      [3, 32],
    ])
      for (const channels of [1, 2, 3]) {
        const frames = 4321;
        const align = (channels * bits) / 8;
        const bytes = new Uint8Array(44 + frames * align);
        const view = new DataView(bytes.buffer);
        const letters = (at: number, text: string) => bytes.set(new TextEncoder().encode(text), at);
        letters(0, 'RIFF');
        view.setUint32(4, bytes.length - 8, true);
        letters(8, 'WAVEfmt ');
        view.setUint32(16, 16, true);
        view.setUint16(20, tag, true);
        view.setUint16(22, channels, true);
        view.setUint32(24, 44100, true);
        view.setUint32(28, 44100 * align, true);
        view.setUint16(32, align, true);
        view.setUint16(34, bits, true);
        letters(36, 'data');
        view.setUint32(40, frames * align, true);
        for (let i = 44; i < bytes.length; i++) bytes[i] = Math.floor(random() * 256);
        if (tag === 3)
          for (let i = 44; i < bytes.length; i += 4) view.setFloat32(i, random() * 4 - 2, true);
        const fast = readWavFrom(bytesOf(bytes), 'it', kernel);
        expect(fast).toEqual(readWavFrom(bytesOf(bytes), 'it', null));
        if (tag !== 3) continue;
        view.setFloat32(44 + 4 * 1000, Number.NaN, true);
        for (const by of [kernel, null])
          expect(() => readWavFrom(bytesOf(bytes), 'it', by)).toThrow(/not a number/);
      }
  });

  it('store the same bytes in every width, over several pieces', () => {
    for (const [length, channels] of [
      [0, 1],
      [1000, 3],
      [270_000, 2],
    ]) {
      const audio = {
        sampleRate: 44100,
        channels: Array.from({ length: channels }, (_, c) =>
          noise(length, c + 1).map((x, i) => (i % 5 ? 1.2 * x : Math.round(x * 100) / 128)),
        ),
      };
      const odd = [Number.NaN, Infinity, -Infinity, -0, 1e-30, -1e-30, 0.5 / 32768, -0.5 / 8388608];
      if (length) audio.channels[0].set(odd, 500);
      for (const bits of ['16', '24', '32f'] as const) {
        const [fast, plain] = [kernel, null].map((by) => writeWav(audio, { bits, seed: 3e9 }, by));
        expect(Buffer.compare(fast, plain)).toBe(0);
      }
    }
  });

  it('add up the same powers and magnitudes by bands and by classes', () => {
    const source = sourceOf(noise(9000, 8));
    const starts = [-700, 0, 13, 4000, 8700, 9100, 77, 5000, 1, 2, 3];
    const edges = [3, 4, 9, 60, 257];
    const bands = (by: typeof kernel) => bandPowers(source, starts, 512, edges, by);
    expect(worst(bands(kernel), bands(null))).toBeLessThan(1e-5 * 512 * 200);
    const classOf = Int8Array.from({ length: 200 }, (_, k) => (k < 5 ? -1 : k % 12));
    const classes = (by: typeof kernel) => classMagnitudes(source, starts, 512, classOf, 12, by);
    expect(worst(classes(kernel), classes(null))).toBeLessThan(1e-3);
  });

  it('find the same partials, and the same pitch classes in them to the last bit', () => {
    const audio = { sampleRate: 44100, channels: [plucks(5, 44100)] };
    const sound = hearingSignal(audio);
    const fast = hearPartials(audio, 0.1, 12, sound, kernel);
    const plain = hearPartials(audio, 0.1, 12, sound, null);
    expect(fast.length).toBe(plain.length);
    fast.forEach((moment, i) => {
      expect(moment.time).toBe(plain[i].time);
      // The weakest of them may change places by a rounding.
      const strong = plain[i].magnitudes.filter((m) => m > 0.05 * plain[i].magnitudes[0]).length;
      expect(
        worst(moment.frequencies.slice(0, strong), plain[i].frequencies.slice(0, strong)),
      ).toBeLessThan(0.01);
      expect(
        worst(moment.magnitudes.slice(0, strong), plain[i].magnitudes.slice(0, strong)),
      ).toBeLessThan(1e-4 * plain[i].magnitudes[0]);
    });
    const tuning = { a4: 441.3, cents: 5, confidence: 1 };
    for (const overtones of [forKey, forPassages])
      expect(chromasOf(fast, tuning, overtones, kernel)).toEqual(
        chromasOf(fast, tuning, overtones, null),
      );
    expect(measured(fast, kernel)).toEqual(measured(fast, null));
  });

  it('hear the same material come back, to the last bit', () => {
    for (const count of [3, 17, 90, 133]) {
      const random = makeRandom(count);
      const frames = new Float64Array(count * 24);
      for (let i = 0; i < count; i++) {
        const one =
          i % 40 === 39 ? new Float64Array(12) : Float64Array.from({ length: 12 }, random);
        const norm = Math.hypot(...one) || 1;
        for (let c = 0; c < 24; c++) frames[i * 24 + c] = (one[c % 12] - 0.4) / norm;
      }
      const material = { hop: 0.25, weights: [], frames };
      expect(hearRepeats(material, ownKernels())).toEqual(hearRepeats(material, null));
    }
  });

  it('pick the same attacks and norms, and unpack the same weights, to the last bit', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 900 }), fc.integer(), (parts, seed) => {
        // Half of it nothing, some of it equal.
        const likely = noise(parts, seed).map((x) => Math.max(0, Math.round(x * 20) / 20) ** 2);
        expect(pickAttacks(likely, 0.16, kernel)).toEqual(pickAttacks(likely, 0.16, null));
      }),
      runs,
    );
    const rows = noise(7 * 1100, 9);
    expect(rowNorms(rows, 1100, 7, kernel)).toEqual(rowNorms(rows, 1100, 7, null));
    const bytes = Int8Array.from({ length: 5 * 13 }, (_, i) => (i * 37) % 256);
    const steps = [0.1, 0.017, 2, 0.3, 0.0041];
    expect(packedRows(bytes, steps, kernel)).toEqual(packedRows(bytes, steps, null));
  });
});
