import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { hearKey, tonics } from '../../shared/hear/key.ts';
import { hearPartials } from '../../shared/hear/partials.ts';
import { hearTuning } from '../../shared/hear/tuning.ts';
import type { Audio } from '../../shared/take/audio.ts';
import { Chance } from '../perform/chance.ts';

/** Chords (lists of MIDI notes) of 0.3 s each, as tones with five partials. */
function chords(list: readonly (readonly number[])[], cents = 0, sampleRate = 11025): Audio {
  const each = Math.round(0.3 * sampleRate);
  const out = new Float32Array(each * list.length);
  list.forEach((notes, n) => {
    for (const note of notes) {
      const hertz = 440 * 2 ** ((note - 69) / 12 + cents / 1200);
      for (let h = 1; h <= 5; h++) {
        const turn = (2 * Math.PI * h * hertz) / sampleRate;
        for (let i = 0; i < each; i++) out[n * each + i] += (0.05 / h) * Math.sin(turn * i);
      }
    }
  });
  return { sampleRate, channels: [out] };
}

/** I IV V I and the melody of a scale above: as plain a statement of a key as there is. */
function cadence(tonic: number, minor: boolean): number[][] {
  const third = minor ? 3 : 4;
  const sixth = minor ? 8 : 9;
  const one = [0, third, 7, 12];
  const four = [5, sixth, 12, 17];
  const five = [7, 11, 14, 17];
  return [one, four, five, one, one, four, one, five, one].map((c) => c.map((n) => 48 + tonic + n));
}

const scaled = (audio: Audio, gain: number): Audio => ({
  ...audio,
  channels: audio.channels.map((channel) => channel.map((x) => x * gain)),
});

describe('tuning', () => {
  test('is found to three cents anywhere between two semitones', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: -47, max: 47 }),
        fc.integer({ min: 0, max: 11 }),
        (cents, up) => {
          const heard = hearTuning(chords(cadence(up, false).slice(0, 4), cents));
          // Below 5 to 6 cents nobody hears it (common practice, no source); low partials that lie a few
          // bins apart pull at each other.
          expect(Math.abs(heard.cents - cents)).toBeLessThan(3);
          expect(heard.a4).toBeCloseTo(440 * 2 ** (heard.cents / 1200), 9);
          expect(heard.confidence).toBeGreaterThan(0.8);
        },
      ),
      { seed: 5, numRuns: 12 },
    );
  });

  test('is the same at another gain, upside down and at another rate', () => {
    const at = (audio: Audio): number => hearTuning(audio).cents;
    const take = chords(cadence(2, true), 13);
    expect(at(scaled(take, 0.001))).toBeCloseTo(at(take), 3);
    expect(at(scaled(take, -1))).toBeCloseTo(at(take), 6);
    // Other windows at other rates: half a cent is far below what is heard (5 to 6 cents, common
    // practice, no source).
    expect(Math.abs(at(chords(cadence(2, true), 13, 48000)) - at(take))).toBeLessThan(0.5);
  });

  test('drifts by what the take slides, whatever is played', () => {
    const slide = (from: number, to: number): number => {
      const parts = Array.from({ length: 12 }, (_, i) =>
        chords(cadence(i % 5, i % 2 === 0), from + ((to - from) * (i + 0.5)) / 12),
      );
      const length = parts.reduce((sum, part) => sum + part.channels[0].length, 0);
      const whole = new Float32Array(length);
      let at = 0;
      for (const part of parts) {
        whole.set(part.channels[0], at);
        at += part.channels[0].length;
      }
      return hearTuning({ sampleRate: 11025, channels: [whole] }).drift ?? Number.NaN;
    };
    // Half a stretch is missing at either end, and low partials pull by a cent or two.
    expect(Math.abs(slide(-8, -8))).toBeLessThan(2);
    expect(Math.abs(slide(0, 30) - 27)).toBeLessThan(4);
    expect(Math.abs(slide(40, 20) + 18)).toBeLessThan(4);
  });

  test('is not claimed for silence or noise', () => {
    const silent: Audio = { sampleRate: 44100, channels: [new Float32Array(44100)] };
    expect(hearTuning(silent)).toEqual({ a4: 440, cents: 0, confidence: 0, drift: 0 });
    const chance = new Chance(3);
    const noise = Float32Array.from({ length: 88200 }, () => chance.between(-0.3, 0.3));
    expect(hearTuning({ sampleRate: 44100, channels: [noise] }).confidence).toBeLessThan(0.2);
  });
});

describe('key', () => {
  test('is heard in every cadence of all 24', () => {
    for (let tonic = 0; tonic < 12; tonic++) {
      for (const minor of [false, true]) {
        const take = chords(cadence(tonic, minor), -20);
        const key = hearKey(take, hearTuning(take));
        expect(`${key.tonic} ${key.mode}`).toBe(`${tonics[tonic]} ${minor ? 'minor' : 'major'}`);
      }
    }
  });

  test('is unclear for silence and where all twelve notes sound alike', () => {
    const silent: Audio = { sampleRate: 44100, channels: [new Float32Array(44100)] };
    expect(hearKey(silent, hearTuning(silent)).tonic).toBe('unclear');
    const all = chords(Array.from({ length: 24 }, (_, i) => [48 + i]));
    expect(hearKey(all, { a4: 440, cents: 0, confidence: 1 }).mode).toBe('unclear');
  });

  test('stays when the take is louder, upside down or has its sides swapped', () => {
    const take = chords(cadence(9, true));
    const tuning = hearTuning(take);
    const other = chords(cadence(9, true), 0).channels[0].map(
      (x, i) => x * (1 + 0.2 * Math.sin(i / 9e3)),
    );
    const wide: Audio = { ...take, channels: [take.channels[0], other] };
    const swapped: Audio = { ...wide, channels: [other, take.channels[0]] };
    expect(hearKey(scaled(take, 1e-3), tuning).tonic).toBe('A');
    expect(hearKey(scaled(take, -1), tuning)).toEqual(hearKey(take, tuning));
    expect(hearKey(swapped, tuning).confidence).toBeCloseTo(hearKey(wide, tuning).confidence, 6);
  });
});

test('partials: a lone sine is one peak at its frequency, at any rate', () => {
  for (const sampleRate of [8000, 44100, 48000, 96000]) {
    for (const hertz of [82.4, 440, 1975.5]) {
      const sine = Float32Array.from({ length: sampleRate }, (_, i) =>
        Math.sin((2 * Math.PI * hertz * i) / sampleRate),
      );
      const middle = hearPartials({ sampleRate, channels: [sine] })[5];
      // A cent is 0.06 %; the parabola through a Hann window's peak is good to a tenth of a bin (0.4 Hz).
      expect(Math.abs(middle.frequencies[0] - hertz)).toBeLessThan(0.4);
      expect(middle.magnitudes.filter((m) => m > middle.magnitudes[0] * 0.1).length).toBe(1);
    }
  }
});

test('partials: two channels that run against each other are still heard', () => {
  const one = chords(cadence(0, false)).channels[0];
  const against: Audio = { sampleRate: 11025, channels: [one, one.map((x) => -x)] };
  expect(hearTuning(against)).toEqual(hearTuning({ sampleRate: 11025, channels: [one] }));
});
