import { expect, it } from 'vitest';
import { sortOut } from '../../src/work/recording-names.ts';

const file = (name: string, type = '') => new File([], name, { type });
const names = (files: readonly File[]) => files.map((one) => one.name);

it('of several files those that are no recordings are left out and named', () => {
  const given = [file('cover.jpg'), file('Mix.WAV'), file('b', 'audio/flac'), file('notes.txt')];
  const { recordings, note } = sortOut(given);
  expect(names(recordings)).toEqual(['Mix.WAV', 'b']);
  expect(note).toBe('cover.jpg and notes.txt are no recordings, so they were left out.');
});

it('where none is named as a recording all are tried', () => {
  for (const given of [[file('mix.raw')], [file('a.dat'), file('b.dat')], [file('mix.wav')]])
    expect(sortOut(given)).toEqual({ recordings: given, note: null });
});
