import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { InputError } from '../../shared/math/input-error.ts';
import { parseProject, readProject, writeProject } from '../../src/store/project-file.ts';
import { plainProject } from './store-arbitraries.ts';

const seed = 20260104;

describe('the project file', () => {
  it('reads what it wrote', () => {
    const project = plainProject();
    expect(parseProject(writeProject(project))).toEqual({ project, repairs: [] });
  });

  it('keeps the first part of a name that is very long, and no half character', () => {
    const plain = plainProject();
    const name = `${'a'.repeat(999)}\u{1F3B9} and more`;
    const lanes = plain.lanes.map((lane) => ({ ...lane, name }));
    const { project } = readProject({ ...plain, name, lanes });
    expect(project.name).toBe('a'.repeat(999));
    expect(lanes.length).toBeGreaterThan(0);
    for (const lane of project.lanes) expect(lane.name).toBe('a'.repeat(999));
    const short = 'A/B: \u{1F3B9} \\ "C" <d>';
    expect(readProject({ ...plain, name: short }).project.name).toBe(short);
  });

  it('refuses what is no project, in one sentence with what to do', () => {
    for (const text of ['', 'RIFF', '[]', '3', 'null', '{"version":1}'])
      expect(() => parseProject(text, 'song.json')).toThrow(InputError);
    expect(() => parseProject('{', 'song.json')).toThrow(/^song\.json is not a project.*;.*\.$/);
  });

  it('refuses a newer version and says which one it can read', () => {
    const newer = { ...plainProject(), version: 7 };
    expect(() => readProject(newer, 'song.json')).toThrow(
      /newer version.*document 7, this one reads up to 1.*reload/,
    );
  });

  it('repairs each field by itself and says what it left out', () => {
    const project = plainProject();
    const odd = {
      ...project,
      name: 3,
      created: 'yesterday',
      cuts: Number.NaN,
      unknown: true,
      pack: { title: 7, artist: 'Ada', bits: '12', sampleRate: 48000.5, loopName: '{loudness}' },
      fixes: [{ beat: 1 }, { beat: -1 }, { wish: 3 }, { one: 2 }],
      slices: [...project.slices, { id: 's99', start: 3, landing: 2, end: 1 }, 'slice'],
      pads: [
        { row: 0, key: 0, slice: 's1', semitones: 1e9, play: 'loudly', note: 300 },
        { row: 0, key: 0, slice: 's2' },
        { row: 9, key: 0, slice: 's2' },
        { row: 1, key: 0, slice: 'gone' },
      ],
      lanes: [
        {
          id: 'l1',
          bars: -4,
          bpm: 'fast',
          source: {
            kind: 'flip',
            placements: [
              { id: 'p1', slice: 's1', at: 0 },
              { id: 'p1', slice: 's1', at: 1 },
              { id: 'p2', slice: 'gone', at: 1 },
            ],
          },
        },
        { id: 'l2', source: { kind: 'straight', from: 3, until: 2 } },
      ],
    };
    const { project: read, repairs } = readProject(odd);
    expect(read.name).toBe('Untitled');
    expect(read.cuts).toBe(50);
    expect(read.pack).toEqual({ artist: 'Ada' });
    expect(read.fixes).toEqual([{ beat: 1 }, { one: 2 }]);
    expect(read.slices).toEqual(project.slices);
    expect(read.pads).toEqual([
      {
        row: 0,
        key: 0,
        slice: 's1',
        semitones: 48,
        cents: 0,
        level: 0,
        direction: 'forwards',
        play: 'through',
        choke: null,
        note: null,
      },
    ]);
    expect(read.lanes).toHaveLength(1);
    expect(read.lanes[0]).toMatchObject({
      bars: 1,
      bpm: 90,
      name: 'loop',
      source: { placements: [{ id: 'p1', at: 0 }] },
    });
    expect(repairs).toEqual([
      '2 of 14 slices made no sense and are left out.',
      '1 of 4 pads made no sense and is left out.',
      '1 of 2 lanes made no sense and is left out.',
      '2 of 4 fixes made no sense and are left out.',
    ]);
    expect(read).not.toHaveProperty('unknown');
  });

  it(`never fails on odd data, and what it made is whole (seed ${seed})`, () => {
    const project = plainProject();
    const keys = Object.keys(project).filter((key) => key !== 'version');
    fc.assert(
      fc.property(
        fc.dictionary(fc.constantFrom(...keys), fc.jsonValue()),
        fc.jsonValue(),
        (odd, take) => {
          const read = readProject({ ...project, take, ...odd }).project;
          expect(readProject(read)).toEqual({ project: read, repairs: [] });
          expect(parseProject(writeProject(read)).project).toEqual(read);
        },
      ),
      { seed, numRuns: 300 },
    );
  });
});
