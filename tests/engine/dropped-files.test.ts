import { describe, expect, it } from 'vitest';
import { droppedFiles } from '../../src/app/page/dropped-files.ts';

const types: Record<string, string> = { wav: 'audio/wav', mp4: 'video/mp4', txt: 'text/plain' };
const asked: string[] = [];

/** Entries as the File and Directory Entries API (WICG) has them. */
const file = (name: string) => ({
  name,
  isFile: true,
  isDirectory: false,
  file: (done: (file: File) => void) => {
    asked.push(name);
    done(new File([], name, { type: types[name.split('.').at(-1) ?? ''] ?? '' }));
  },
});
type Entry = ReturnType<typeof file> | ReturnType<typeof folder>;
const folder = (name: string, ...entries: unknown[]) => ({
  name,
  isFile: false,
  isDirectory: true,
  createReader: () => {
    // Told two at a time, till there is no more.
    const left = [...entries];
    return { readEntries: (done: (some: unknown[]) => void) => done(left.splice(0, 2)) };
  },
});
const drop = (...entries: Entry[]) =>
  droppedFiles({
    files: [],
    items: entries.map((entry) => ({ webkitGetAsEntry: () => entry })),
  } as unknown as DataTransfer);

describe('what is dropped', () => {
  it('of a folder only recordings by their names are read, and the project that was unpacked there', async () => {
    asked.length = 0;
    const { files, folders } = await drop(
      folder(
        'Ebb',
        file('project.json'),
        file('Mix.WAV'),
        file('rehearsal.mp4'),
        file('notes.txt'),
        file('cover'),
        file('._Mix.wav'),
        folder('stems', file('harp.flac'), file('other.json'), file('bass.mp3')),
        folder('.hidden', file('old.wav')),
      ),
    );
    expect(folders).toBe(true);
    const names = ['Mix.WAV', 'project.json', 'bass.mp3', 'harp.flac'];
    expect(files.map(({ name }) => name)).toEqual(names);
    // A film or an album's pictures may be large, or lie on a disk that has to be fetched first.
    expect(asked).toEqual(names);
  });

  it('of files dropped beside a folder all are taken', async () => {
    asked.length = 0;
    const { files } = await drop(file('film.mp4'), folder('Ebb', file('mix.wav')));
    expect(files.map(({ name }) => name)).toEqual(['film.mp4', 'mix.wav']);
  });
});
