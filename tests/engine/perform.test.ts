import { describe, expect, test } from 'vitest';
import { lengthOf } from '../../shared/take/audio.ts';
import { Chance } from '../perform/chance.ts';
import { hasFluid, renderFluid } from '../perform/fluid.ts';
import { instrument } from '../perform/instruments.ts';
import { dry, putInto } from '../perform/place.ts';
import type { PlayedNote } from '../perform/played.ts';
import { record } from '../perform/record.ts';
import { sessionsOf, smallSession } from '../perform/sets.ts';
import { renderPlain } from '../perform/synthesis.ts';
import { asynchronies, readTrioTiming } from '../perform/trio-timing.ts';
import { mergeAttacks } from '../perform/truth.ts';

const small = record(smallSession('piano', 3));

describe('a made performance', () => {
  test('is the same for the same seed and another for another', () => {
    const again = record(smallSession('piano', 3));
    expect(again.truth).toEqual(small.truth);
    // Element by element toEqual takes seconds for a million samples.
    expect(again.audio.channels[0].every((x, i) => x === small.audio.channels[0][i])).toBe(true);
    expect(record(smallSession('piano', 4)).truth.onsets).not.toEqual(small.truth.onsets);
  });

  test('sounds from its true first sample on and not before', () => {
    const { audio, truth } = small;
    const first = Math.round(truth.notes[0].time * audio.sampleRate);
    const peak = (from: number, until: number): number => {
      let top = 0;
      for (let i = Math.max(0, from); i < until; i++) {
        for (const channel of audio.channels) top = Math.max(top, Math.abs(channel[i]));
      }
      return top;
    };
    const attack = peak(first, first + 4410);
    // The truth is where the note comes within 30 dB of its peak: below that before, above it after.
    expect(peak(0, first - 2)).toBeLessThan(attack * 10 ** (-28 / 20));
    expect(peak(first - 1, first + 45)).toBeGreaterThan(attack * 10 ** (-32 / 20));
  });

  test('has rising beats, counted bars, phrases in order and returns of earlier phrases', () => {
    for (const kind of ['piano', 'trio', 'extreme', 'ensemble'] as const) {
      const { performance } = smallSession(kind, 11, 60);
      const times = performance.beats.map((beat) => beat.time);
      expect(times).toEqual([...new Set(times)].sort((a, b) => a - b));
      performance.beats.forEach((beat, i) => {
        const before = performance.beats[i - 1];
        if (before) expect(beat.count === before.count + 1 || beat.count === 1).toBe(true);
      });
      performance.phrases.forEach((phrase, i) => {
        expect(phrase.end).toBeGreaterThan(phrase.start);
        if (phrase.like) {
          expect(phrase.like.phrase).toBeLessThan(i);
          expect(performance.phrases[phrase.like.phrase].material).toBe(phrase.material);
        }
      });
    }
  });

  test('returns bring the same notes back, higher by what the truth says', () => {
    let returns = 0;
    for (const { performance } of sessionsOf('dev')) {
      if (returns > 3) break;
      const notesIn = (phrase: (typeof performance.phrases)[number]): number[] =>
        performance.notes
          .filter((note) => note.part === 'bass' && note.time > phrase.start + 0.1)
          .filter((note) => note.time < phrase.end - 0.3)
          .map((note) => note.pitch);
      for (const phrase of performance.phrases) {
        if (!phrase.like) continue;
        const then = notesIn(performance.phrases[phrase.like.phrase]).slice(1, 4);
        const now = notesIn(phrase).slice(1, 4);
        if (then.length < 3 || now.length < 3 || performance.notes.length < 50) continue;
        returns++;
        const apart = now.map((pitch, i) => pitch - then[i]);
        // Spread chords may swap two neighbours; most notes say the same.
        expect(apart.filter((x) => x === phrase.like?.semitones).length).toBeGreaterThan(0);
      }
    }
    expect(returns).toBeGreaterThan(0);
  });

  test('the two sets share no seed', () => {
    // Only the first of each: composing all takes long.
    const dev = sessionsOf('dev').next().value;
    const check = sessionsOf('check').next().value;
    expect(dev?.seed).not.toBe(check?.seed);
  });
});

describe('places', () => {
  const note: PlayedNote = {
    time: 0.5,
    seconds: 0.3,
    pitch: 69,
    velocity: 90,
    part: 'melody',
    instrument: instrument('nylon guitar'),
  };
  const lone = renderPlain([note], [], 1.2, 0).audio;
  const firstAbove = (x: Float32Array, threshold: number): number =>
    x.findIndex((v) => Math.abs(v) > threshold);

  test('a narrow band moves no attack', () => {
    const narrow = putInto(lone, { ...dry, top: 7500 }, 1).audio.channels[0];
    const moved = firstAbove(narrow, 0.01) - firstAbove(lone.channels[0], 0.01);
    // A pre-ringing of a few samples at 7.5 kHz is the filter's nature.
    expect(Math.abs(moved)).toBeLessThan(12);
  });

  test('a worn tape moves an attack to where the place says', () => {
    const { audio, moved } = putInto(lone, { ...dry, wow: 0.01 }, 5);
    const rate = lone.sampleRate;
    const then = firstAbove(lone.channels[0], 0.02) / rate;
    const now = firstAbove(audio.channels[0], 0.02) / rate;
    expect(Math.abs(moved(then) - then)).toBeGreaterThan(0.0001);
    expect(Math.abs(now - moved(then))).toBeLessThan(2 / rate);
  });

  test('one channel is left of two when an old record plays', () => {
    const { audio } = putInto(lone, { ...dry, mono: true, hiss: -60 }, 1);
    expect(audio.channels.length).toBe(1);
    expect(lengthOf(audio)).toBe(lengthOf(lone));
  });
});

test('attacks merge within 30 ms of the first of their group', () => {
  expect(mergeAttacks([1.05, 1, 1.02, 1.031, 2])).toEqual([1, 1.031, 2]);
});

test('real players are off the beat by some ms, with no mean left', () => {
  for (const player of ['piano', 'bass', 'drums'] as const) {
    const away = asynchronies(readTrioTiming(12), player);
    const spread = Math.sqrt(away.reduce((sum, x) => sum + x * x, 0) / away.length);
    expect(away.length).toBeGreaterThan(200);
    expect(spread).toBeGreaterThan(0.003);
    expect(spread).toBeLessThan(0.03);
  }
});

test('chance is normal: mean and deviation of many throws', () => {
  const chance = new Chance(9);
  const many = Array.from({ length: 20000 }, () => chance.normal(2, 3));
  const mean = many.reduce((sum, x) => sum + x, 0) / many.length;
  const deviation = Math.sqrt(many.reduce((sum, x) => sum + (x - mean) ** 2, 0) / many.length);
  // Five standard errors: 3 / sqrt(20000) each.
  expect(Math.abs(mean - 2)).toBeLessThan(0.11);
  expect(Math.abs(deviation - 3)).toBeLessThan(0.1);
});

test.runIf(hasFluid())('fluidsynth starts notes at the samples that are predicted', () => {
  const hat = instrument('plain kit');
  const notes = [0.3, 1.1009, 2.0073, 3.3333, 4.71].map(
    (time): PlayedNote => ({
      time,
      seconds: 0.1,
      pitch: 37,
      velocity: 100,
      part: 'drums',
      instrument: hat,
    }),
  );
  const { audio, starts } = renderFluid(notes, [], 6, 0);
  const offsets = starts.map((start) => {
    let i = start;
    while (Math.abs(audio.channels[0][i]) < 0.003) i++;
    return i - start;
  });
  // The sound's own delay is one number to the sample, whatever the millisecond.
  expect(new Set(offsets).size).toBe(1);
});
