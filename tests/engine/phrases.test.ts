import { describe, expect, test } from 'vitest';
import type { Onset } from '../../shared/hear/heard.ts';
import { materialOf } from '../../shared/hear/phrases/material.ts';
import { hearPhrases } from '../../shared/hear/phrases/phrases.ts';
import { hearRepeats } from '../../shared/hear/phrases/repeats.ts';
import { alikeFrom, findReturns } from '../../shared/hear/phrases/returns.ts';
import type { Audio } from '../../shared/take/audio.ts';
import { Chance } from '../perform/chance.ts';
import { instrument } from '../perform/instruments.ts';
import type { PlayedNote } from '../perform/played.ts';
import { renderPlain } from '../perform/synthesis.ts';

const guitar = instrument('nylon guitar');

/** Four phrases: a tune, another one, the first a whole tone higher, the other as it was; breaths between. */
const tunes = {
  a: [60, 64, 67, 72, 71, 67, 65, 62, 64, 67, 60, 59],
  b: [69, 69, 65, 60, 62, 57, 58, 61, 66, 70, 68, 63],
};
const order = [
  { tune: tunes.a, up: 0 },
  { tune: tunes.b, up: 0 },
  { tune: tunes.a, up: 2 },
  { tune: tunes.b, up: 0 },
];

function play(): { audio: Audio; onsets: Onset[]; starts: number[] } {
  const chance = new Chance(8);
  const notes: PlayedNote[] = [];
  const starts: number[] = [];
  let time = 0.4;
  for (const { tune, up } of order) {
    starts.push(time);
    tune.forEach((pitch, i) => {
      const last = i === tune.length - 1;
      const seconds = last ? 1.1 : 0.38 * chance.between(0.9, 1.12);
      const part = 'melody' as const;
      notes.push({ time, seconds, pitch: pitch + up, velocity: 80, part, instrument: guitar });
      time += seconds + (last ? 0.7 : 0);
    });
  }
  const { audio } = renderPlain(notes, [], time + 1, 0, 22050);
  const onsets = notes.map((note) => ({ time: note.time, strength: 0.6 }));
  return { audio, onsets, starts };
}

const take = play();
/** Nothing is known of what begins. */
const noFresh = { times: new Float64Array(0), fresh: new Float64Array(0) };
const changed = (change: (x: Float32Array, c: number) => Float32Array): Audio => ({
  ...take.audio,
  channels: take.audio.channels.map(change),
});
const startsOf = (audio: Audio, onsets: readonly Onset[] = take.onsets): number[] =>
  hearPhrases(audio, onsets).map((phrase) => phrase.start);

describe('phrases', () => {
  test('begin after each breath', () => {
    expect(startsOf(take.audio)).toEqual(take.starts);
  });

  test('follow each other without overlap and end before the silence after the last sound', () => {
    const phrases = hearPhrases(take.audio, take.onsets);
    phrases.forEach((phrase, i) => {
      expect(phrase.end).toBeGreaterThan(phrase.start);
      expect(phrase.end).toBeLessThanOrEqual(phrases[i + 1]?.start ?? Number.POSITIVE_INFINITY);
      expect(phrase.energy).toBeLessThan(0);
    });
  });

  test('are the same at another gain, upside down, swapped and with noise at -80 dBFS', () => {
    const plain = hearPhrases(take.audio, take.onsets);
    const chance = new Chance(1);
    expect(startsOf(changed((x) => x.map((v) => v * 0.01)))).toEqual(take.starts);
    expect(
      hearPhrases(
        changed((x) => x.map((v) => -v)),
        take.onsets,
      ),
    ).toEqual(plain);
    const [left, right] = take.audio.channels;
    expect(startsOf({ ...take.audio, channels: [right, left] })).toEqual(take.starts);
    expect(startsOf(changed((x) => x.map((v) => v + chance.normal(0, 1e-4))))).toEqual(take.starts);
  });

  test('at another gain they end and return alike', () => {
    const loud = hearPhrases(take.audio, take.onsets);
    const soft = hearPhrases(
      changed((x) => x.map((v) => v * 0.05)),
      take.onsets,
    );
    expect(soft.map((p) => p.end)).toEqual(loud.map((p) => p.end));
    expect(soft.map((p) => p.like?.semitones)).toEqual(loud.map((p) => p.like?.semitones));
  });

  test('move with the take when silence is put before it', () => {
    const samples = 7001;
    const shift = samples / take.audio.sampleRate;
    const later = changed((x) => {
      const out = new Float32Array(x.length + samples);
      out.set(x, samples);
      return out;
    });
    const onsets = take.onsets.map((onset) => ({ ...onset, time: onset.time + shift }));
    const starts = startsOf(later, onsets);
    expect(starts.length).toBe(take.starts.length);
    starts.forEach((start, i) => {
      expect(start).toBeCloseTo(take.starts[i] + shift, 9);
    });
  });

  test('are none without onsets and one for a lone note', () => {
    expect(hearPhrases(take.audio, [])).toEqual([]);
    expect(hearPhrases(take.audio, take.onsets.slice(0, 1)).length).toBe(1);
  });
});

describe('returns', () => {
  test('name the phrase that comes back and how far it lies higher', () => {
    const likes = hearPhrases(take.audio, take.onsets).map((phrase) => phrase.like);
    expect(likes[0]).toBeUndefined();
    expect(likes[1]).toBeUndefined();
    expect(likes[2]).toMatchObject({ phrase: 0, semitones: 2 });
    expect(likes[3]).toMatchObject({ phrase: 1, semitones: 0 });
  });

  test('are alike with themselves, at every transposition at its own shift only', () => {
    const moment = (time: number, notes: readonly number[]) => ({
      time,
      frequencies: notes.map((n) => 440 * 2 ** ((n - 69) / 12)),
      magnitudes: notes.map(() => 1),
    });
    const tuning = { a4: 440, cents: 0, confidence: 1 };
    const line = tunes.a.concat(tunes.b);
    for (let up = -5; up <= 6; up++) {
      const partials = [
        ...line.map((n, i) => moment(i * 0.4, [n])),
        ...line.map((n, i) => moment(10 + i * 0.4, [n + up])),
      ];
      const material = materialOf(partials, tuning, 20, noFresh);
      const scores = Array.from({ length: 12 }, (_, k) => alikeFrom(material, 0, 10, k - 5, 8));
      expect(scores.indexOf(Math.max(...scores)) - 5).toBe(up);
      expect(scores[up + 5]).toBeGreaterThan(0.95);
    }
  });

  test('nothing returns in silence', () => {
    const material = materialOf([], { a4: 440, cents: 0, confidence: 0 }, 30, noFresh);
    const phrases = [0, 10, 20].map((start) => ({ start, end: start + 9, energy: -90 }));
    expect(
      findReturns(phrases, material, hearRepeats(material)).some((phrase) => phrase.like),
    ).toBe(false);
  });
});
