import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { moveBeat, removeBeat } from '../../src/store/beat-commands.ts';
import { changeLane } from '../../src/store/lane-commands.ts';
import { fillRow, padsInRow, setPad, swapPads } from '../../src/store/pad-commands.ts';
import { copyBar, placementsOf, placeSlices, wrapped } from '../../src/store/placement-commands.ts';
import type { Project } from '../../src/store/project.ts';
import { readProject } from '../../src/store/project-file.ts';
import { joinSlices, moveEdge, setCuts, splitSlice } from '../../src/store/slice-commands.ts';
import { retune } from '../../src/store/tuning-commands.ts';
import { anyCommand, plainProject } from './store-arbitraries.ts';

const seed = 20260102;

/** What has to hold of every document, whatever was done to it. */
function expectSound(project: Project): void {
  const ids = project.slices.map((slice) => slice.id);
  expect(new Set(ids).size).toBe(ids.length);
  let before = Number.NEGATIVE_INFINITY;
  for (const slice of project.slices) {
    expect(slice.start).toBeGreaterThanOrEqual(0);
    expect(slice.start).toBeLessThanOrEqual(slice.landing);
    expect(slice.landing).toBeLessThan(slice.end);
    expect(slice.landing).toBeGreaterThanOrEqual(before);
    before = slice.landing;
  }
  const known = new Set(ids);
  const places = project.pads.map((pad) => `${pad.row} ${pad.key}`);
  expect(new Set(places).size).toBe(places.length);
  for (const pad of project.pads) {
    expect(known.has(pad.slice)).toBe(true);
    expect(pad.key).toBeLessThan(padsInRow[pad.row] ?? 0);
  }
  const laneIds = project.lanes.map((lane) => lane.id);
  expect(new Set(laneIds).size).toBe(laneIds.length);
  for (const lane of project.lanes) {
    expect(lane.bars).toBeGreaterThanOrEqual(1);
    expect(lane.bpm).toBeGreaterThanOrEqual(30);
    const own = placementsOf(lane);
    expect(new Set(own.map((p) => p.id)).size).toBe(own.length);
    for (const placement of own) {
      expect(known.has(placement.slice)).toBe(true);
      expect(placement.at).toBeGreaterThanOrEqual(0);
    }
  }
}

describe('tuning by what is heard', () => {
  it('sets what its slices want, leaves what has no note, and goes no farther than two octaves', () => {
    let project = plainProject();
    for (const [key, slice] of ['s1', 's2', 's3', 's4'].entries())
      project = setPad({ row: 1, key }, slice).apply(project);
    project = placeSlices('l2', [
      { slice: 's1', at: 0 },
      { slice: 's3', at: 1 },
    ]).apply(project);
    const [first] = placementsOf(project.lanes[1]);
    const wish = (slice: string) =>
      slice === 's2' ? null : { semitones: slice === 's3' ? 25 : -1, cents: 20 };
    const places = [0, 1, 2].map((key) => ({ row: 1, key }));
    const tuned = retune('bring', { places, lane: 'l2', placements: [first.id] }, wish).apply(
      project,
    );
    expect(tuned.pads.map((pad) => [pad.semitones, pad.cents])).toEqual([
      [-1, 20],
      [0, 0],
      [0, 0],
      [0, 0],
    ]);
    expect(placementsOf(tuned.lanes[1]).map((one) => one.semitones)).toEqual([-1, 0]);
    const none = { places: [], lane: null, placements: [] };
    expect(retune('bring', none, wish).apply(tuned)).toBe(tuned);
  });
});

describe('edits of the document', () => {
  it(`leave it sound, whatever their order (seed ${seed})`, () => {
    fc.assert(
      fc.property(fc.array(anyCommand, { maxLength: 40 }), (commands) => {
        let project = plainProject();
        for (const command of commands) project = command.apply(project);
        expectSound(project);
      }),
      { seed, numRuns: 150 },
    );
  });

  it('never change the document that they are given', () => {
    fc.assert(
      fc.property(fc.array(anyCommand, { maxLength: 20 }), (commands) => {
        let project = plainProject();
        for (const command of commands) {
          const before = JSON.stringify(project);
          const next = command.apply(project);
          expect(JSON.stringify(project)).toBe(before);
          project = next;
        }
      }),
      { seed, numRuns: 60 },
    );
  });

  it('return the very document when they change nothing', () => {
    fc.assert(
      fc.property(fc.array(anyCommand, { maxLength: 30 }), (commands) => {
        let project = plainProject();
        for (const command of commands) {
          const next = command.apply(project);
          if (next !== project) expect(next).not.toEqual(project);
          project = next;
        }
      }),
      { seed, numRuns: 100 },
    );
  });

  it('make documents that the file gives back as they were', () => {
    fc.assert(
      fc.property(fc.array(anyCommand, { maxLength: 30 }), (commands) => {
        let project = plainProject();
        for (const command of commands) project = command.apply(project);
        const read = readProject(JSON.parse(JSON.stringify(project)));
        expect(read.repairs).toEqual([]);
        expect(read.project).toEqual(JSON.parse(JSON.stringify(project)));
      }),
      { seed, numRuns: 100 },
    );
  });
});

describe('slices', () => {
  it('share a cut: moving it moves both', () => {
    const moved = moveEdge('s3', 'start', 1.9).apply(plainProject());
    expect(moved.slices[1]?.end).toBe(1.9);
    expect(moved.slices[2]?.start).toBe(1.9);
    expect(moved.slices[2]?.by).toBe('hand');
  });

  it('come back whole when split and joined', () => {
    const first = plainProject();
    const split = splitSlice('s4', 2.75, []).apply(first);
    expect(split.slices).toHaveLength(13);
    const joined = joinSlices([split.slices[3]?.id ?? '', split.slices[4]?.id ?? '']).apply(split);
    expect(joined.slices[3]).toEqual({ ...first.slices[3], by: 'hand' });
  });

  it('made by hand or set on a lane stay when cuts are suggested again', () => {
    let project = moveEdge('s3', 'end', 2.4).apply(plainProject());
    project = placeSlices('l2', [{ slice: 's8', at: 0 }]).apply(project);
    const kept = [project.slices[2], project.slices[3], project.slices[7]];
    const coarse = setCuts(0, [{ start: 1, landing: 1.06, end: 7 }]).apply(project);
    for (const slice of kept) expect(coarse.slices).toContain(slice);
    for (const [i, slice] of coarse.slices.entries())
      if (i > 0)
        expect(slice.start).toBeGreaterThanOrEqual((coarse.slices[i - 1]?.end ?? 0) - 1e-9);
  });

  it('hand their pads on to the slice that now holds their landing', () => {
    const project = setPad({ row: 1, key: 0 }, 's6').apply(plainProject());
    const coarse = setCuts(0, [
      { start: 1, landing: 1.06, end: 3 },
      { start: 3, landing: 3.001, end: 7 },
    ]).apply(project);
    const heir = coarse.slices.find((slice) => slice.id === coarse.pads[0]?.slice);
    expect(heir?.start).toBe(3);
  });

  it('keep their names where a suggestion lands on them', () => {
    const project = plainProject();
    const same = setCuts(
      70,
      project.slices.map(({ start, landing, end }) => ({ start, landing, end })),
    ).apply(project);
    expect(same.slices).toBe(project.slices);
  });
});

describe('pads', () => {
  it('swapped twice are as they were', () => {
    const project = fillRow(0, ['s1', 's2', 's3']).apply(plainProject());
    const there = swapPads({ row: 0, key: 0 }, { row: 3, key: 2 }).apply(project);
    expect(there.pads.at(-1)?.slice).toBe('s1');
    expect(swapPads({ row: 0, key: 0 }, { row: 3, key: 2 }).apply(there)).toEqual(project);
  });

  it('keep their sound when another slice is put there', () => {
    let project = setPad({ row: 0, key: 0 }, 's1').apply(plainProject());
    project = {
      ...project,
      pads: project.pads.map((pad) => ({ ...pad, semitones: -5, note: 36 })),
    };
    const next = setPad({ row: 0, key: 0 }, 's2').apply(project);
    expect(next.pads[0]).toMatchObject({ slice: 's2', semitones: -5, note: 36 });
  });
});

describe('beats', () => {
  it('put by hand are moved, not doubled', () => {
    const project = moveBeat(2.1, 2.2).apply(moveBeat(2, 2.1).apply(plainProject()));
    expect(project.fixes).toEqual([{ beat: 2.2, by: 'moved' }]);
    expect(removeBeat(2.2).apply(project).fixes).toEqual([{ notBeat: 2.2 }]);
  });
});

describe('lanes', () => {
  it('hold their numbers within limits', () => {
    const project = changeLane('l1', { bars: 0.2, bpm: Number.NaN, swing: 99, steady: -1 }).apply(
      plainProject(),
    );
    expect(project.lanes[0]).toMatchObject({ bars: 1, bpm: 90, swing: 80, steady: 0 });
  });

  it('copy a bar onto another in place of what was there', () => {
    let project = placeSlices('l2', [
      { slice: 's1', at: 0 },
      { slice: 's2', at: 1.5 },
      { slice: 's3', at: 9 },
    ]).apply(plainProject());
    project = copyBar('l2', 0, 2).apply(project);
    const list = placementsOf(project.lanes[1] as Project['lanes'][number]);
    expect(list.map((p) => [p.slice, p.at])).toEqual([
      ['s1', 0],
      ['s2', 1.5],
      ['s1', 8],
      ['s2', 9.5],
    ]);
  });

  it('wrap positions into the loop', () => {
    expect(wrapped(-0.5, 16)).toBe(15.5);
    expect(wrapped(16, 16)).toBe(0);
    expect(wrapped(-1e-18, 16)).toBe(0);
  });
});
