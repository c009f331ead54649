import { expect, test } from 'vitest';
import { evenBeats, keepsTempo } from '../../shared/hear/beats/even.ts';
import { Chance } from '../perform/chance.ts';
import { readTrioTiming } from '../perform/trio-timing.ts';

const even = Array.from({ length: 40 }, (_, i) => 1 + 0.4 * i);
const sure = (onsets: Float64Array) => onsets.map(() => 3);

/** Even beats of which the twentieth is struck late by its only player. */
function oneLate(fixed: ReadonlySet<number>, free = 0): number[] {
  const played = even.map((time, i) => (i === 19 ? time + 0.03 : time));
  const onsets = Float64Array.from(played);
  const times = played.slice();
  evenBeats(times, free, fixed, onsets, sure(onsets));
  return times;
}

test('an even tempo stays, and one late player moves the beat by less than half', () => {
  const times = oneLate(new Set());
  expect(Math.abs(times[5] - even[5])).toBeLessThan(1e-5);
  expect(times[19] - even[19]).toBeGreaterThan(0.003);
  expect(times[19] - even[19]).toBeLessThan(0.015);
});

test('beats that the user set or confirmed stay, and hold those beside them', () => {
  const late = even[19] + 0.03;
  expect(oneLate(new Set([late]))[19]).toBe(late);
  const held = oneLate(new Set(), 20);
  expect(held.slice(0, 20)).toEqual([...even.slice(0, 19), late]);
  expect(held[20] - even[20]).toBeGreaterThan(oneLate(new Set())[20] - even[20]);
});

test('a beat far from even is left where it is', () => {
  const times = even.map((time, i) => (i === 19 ? time + 0.15 : time));
  evenBeats(times, 0, new Set(), Float64Array.from(times), sure(Float64Array.from(times)));
  expect(times[19]).toBe(even[19] + 0.15);
});

// Onsets and beats as annotated in the Jazz Trio Database (Cheston et al. 2024, TISMIR 7); the even excerpts are for reports.
test.each([1, 3, 5, 7, 9, 11, 13])('real trio %i keeps its tempo', (number) => {
  const { beats, piano, bass, drums } = readTrioTiming(number);
  const onsets = Float64Array.from([...piano, ...bass, ...drums].sort((a, b) => a - b));
  expect(keepsTempo(beats, onsets, sure(onsets))).toBe(true);
});

test('players who all follow a tempo that moves do not keep one', () => {
  const chance = new Chance(3);
  let time = 1;
  let interval = 0.5;
  const beats = Array.from({ length: 80 }, () => {
    interval *= Math.exp(chance.normal(0, 0.03));
    time += interval;
    return time;
  });
  const players = beats.flatMap((beat) => [0, 1, 2].map(() => beat + chance.normal(0, 0.004)));
  const onsets = Float64Array.from(players.sort((a, b) => a - b));
  expect(keepsTempo(beats, onsets, sure(onsets))).toBe(false);
});
