import { describe, expect, test } from 'vitest';
import { materialOf } from '../../shared/hear/phrases/material.ts';
import { hearRepeats } from '../../shared/hear/phrases/repeats.ts';
import { findReturns } from '../../shared/hear/phrases/returns.ts';
import type { Partials } from '../../shared/hear/pitch/partials.ts';
import { Chance } from '../perform/chance.ts';

/** Tunes as lone pitches, drawn by chance; each note one moment of pitch every 0.1 s. */
const tuning = { a4: 440, cents: 0, confidence: 1 };
const chance = new Chance(3);
const tune = () => Array.from({ length: 24 }, () => 60 + chance.whole(0, 11));
const first = tune();
const second = tune();
const third = tune();
const other = tune();

interface Playing {
  readonly notes: readonly number[];
  readonly seconds: number;
  readonly over?: readonly number[];
}

/** Plays one after the other; `over` sounds on top of it, one note to each of its own. */
function play(playing: readonly Playing[], up = 0) {
  const partials: Partials[] = [];
  const times: number[] = [];
  const fresh: number[] = [];
  const starts: number[] = [];
  let at = 0;
  for (const { notes, seconds, over } of playing) {
    starts.push(at);
    notes.forEach((note, i) => {
      const both = [note + up, ...(over ? [over[i] + up] : [])];
      times.push(at);
      fresh.push(...Array.from({ length: 12 }, (_, c) => (both.some((n) => n % 12 === c) ? 1 : 0)));
      const until = at + (seconds * (1 + 0.2 * Math.sin(i))) / notes.length;
      for (let time = Math.ceil(at * 10) / 10; time < until; time += 0.1)
        partials.push({
          time,
          frequencies: both.map((n) => 440 * 2 ** ((n - 69) / 12)),
          magnitudes: both.map(() => 1),
        });
      at = until;
    });
  }
  const material = materialOf(partials, tuning, at, {
    times: Float64Array.from(times),
    fresh: Float64Array.from(fresh),
  });
  const phrases = starts.map((start, i) => ({ start, end: starts[i + 1] ?? at, energy: -20 }));
  return { material, phrases, starts };
}

const raised = (notes: readonly number[], up: number) => notes.map((note) => note + up);
const likesOf = ({ material, phrases }: ReturnType<typeof play>) =>
  findReturns(phrases, material, hearRepeats(material)).map(({ like }) =>
    like ? [like.phrase, like.semitones] : undefined,
  );
const form = (up: number): Playing[] => [
  { notes: first, seconds: 9 },
  { notes: second, seconds: 8 },
  { notes: third, seconds: 9 },
  { notes: raised(first, up), seconds: 9 },
];

describe('what comes back', () => {
  test('is found at every transposition, and nothing else is', () => {
    for (let up = -5; up <= 6; up++)
      expect(likesOf(play(form(up)))).toEqual([undefined, undefined, undefined, [0, up]]);
  });

  test('stays the same when the whole piece is played higher', () => {
    for (const higher of [1, 5, 11]) expect(likesOf(play(form(2), higher))[3]).toEqual([0, 2]);
  });

  test('is found slower, faster and with another part on top', () => {
    const over = other.map((note, i) => (i % 2 ? other[i - 1] : note) + 12);
    for (const seconds of [6.5, 13])
      expect(
        likesOf(play([...form(2).slice(0, 3), { notes: raised(first, 2), seconds }]))[3],
      ).toEqual([0, 2]);
    const covered = { notes: raised(first, 2), seconds: 9, over };
    expect(likesOf(play([...form(2).slice(0, 3), covered]))[3]).toEqual([0, 2]);
  });

  test('begins, for either showing, within 0.6 s of where it does', () => {
    const take = play(form(2));
    const { begins, hop } = hearRepeats(take.material);
    const peak = (from: number, until: number) => {
      const part = begins.subarray(Math.round(from / hop), Math.round(until / hop));
      return from + part.indexOf(Math.max(...part)) * hop;
    };
    expect(Math.abs(peak(15, 33) - take.starts[3])).toBeLessThan(0.6);
    expect(peak(0, 7)).toBeLessThan(0.6);
  });

  test('is nothing in silence and in a take shorter than the least distance', () => {
    const quiet = materialOf([], tuning, 30, {
      times: new Float64Array(),
      fresh: new Float64Array(),
    });
    const silent = hearRepeats(quiet);
    expect(Math.max(...silent.begins, ...silent.goesOn)).toBeLessThan(0.45);
    const short = play([{ notes: first.slice(0, 4), seconds: 2 }]);
    expect(Math.max(...hearRepeats(short.material).begins)).toBe(0);
  });

  test('takes ten minutes no longer than its longest frames allow', () => {
    const long = materialOf([], tuning, 600, {
      times: new Float64Array(),
      fresh: new Float64Array(),
    });
    expect(long.weights.length).toBeLessThanOrEqual(801);
  });
});
