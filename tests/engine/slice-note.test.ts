import { expect, test } from 'vitest';
import { noteOfSlice } from '../../shared/cut/slice-note.ts';
import { makeRandom } from '../../shared/math/random.ts';
import type { Audio } from '../../shared/take/audio.ts';
import { plucks } from './plucks.ts';

// plucks plays G3, Bb3, D4, F4, C4 on its moments.
const times = [0.2, 1.2, 2.2];
const low = plucks(times, 3.2, 0.3);
const high = plucks(times, 3.2, 0.1, 4);
const both: Audio = {
  sampleRate: 44100,
  channels: low.channels.map((channel, c) => channel.map((v, i) => v + 3 * high.channels[c][i])),
};
const slices = times.map((time) => ({ start: time - 0.01, landing: time, end: time + 0.75 }));

test('a slice plays the note that stands in it, after its landing', () => {
  const heard = slices.map((slice) => noteOfSlice(low, [], slice));
  expect(heard.map((note) => note?.note)).toEqual([55, 58, 62]);
  expect(heard.every((note) => note?.stem === null && Math.abs(note.cents) < 3)).toBe(true);
  // The note before it leads in for half a second, and does not count.
  const late = { start: 0.7, landing: 1.2, end: 1.95 };
  expect(noteOfSlice(low, [], late)?.note).toBe(58);
});

test('where the mix is a chord, the loudest stem with a note speaks', () => {
  const [slice] = slices;
  expect(noteOfSlice(both, [], slice)).toBeNull();
  const loud = { ...high, channels: high.channels.map((channel) => channel.map((v) => 3.3 * v)) };
  expect(noteOfSlice(both, [low, loud], slice)).toMatchObject({ note: 59, stem: 1 });
  expect(noteOfSlice(both, [loud, low], slice)).toMatchObject({ note: 59, stem: 0 });
  // A drum is louder but has none; what is far below it is not taken for the slice.
  const random = makeRandom(2);
  const drum = (gain: number): Audio => ({
    sampleRate: 44100,
    channels: [Float32Array.from({ length: 44100 * 3 }, () => gain * (random() - 0.5))],
  });
  expect(noteOfSlice(both, [drum(0.3), low], slice)).toMatchObject({ note: 55, stem: 1 });
  expect(noteOfSlice(both, [drum(2), low], slice)).toBeNull();
});

test('silence, and what ends before it begins, plays nothing', () => {
  const silent = { sampleRate: 44100, channels: [new Float32Array(44100)] };
  expect(noteOfSlice(silent, [silent], { start: 0, landing: 0.1, end: 0.9 })).toBeNull();
  expect(noteOfSlice(low, [low], { start: 3.19, landing: 3.195, end: 9 })).toBeNull();
});
