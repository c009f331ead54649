import fc from 'fast-check';
import * as beats from '../../src/store/beat-commands.ts';
import type { Command } from '../../src/store/command.ts';
import * as lanes from '../../src/store/lane-commands.ts';
import * as pads from '../../src/store/pad-commands.ts';
import * as placements from '../../src/store/placement-commands.ts';
import type { Project } from '../../src/store/project.ts';
import * as whole from '../../src/store/project-commands.ts';
import * as slices from '../../src/store/slice-commands.ts';
import { retune } from '../../src/store/tuning-commands.ts';

/** A project of twelve slices of half a second, two of them with a lead-in, one lane of each kind. */
export function plainProject(): Project {
  const take = {
    hash: 'a'.repeat(64),
    name: 'harbour.wav',
    sampleRate: 48000,
    channels: 2,
    seconds: 8,
  };
  return {
    version: 1,
    id: 'project',
    name: 'Harbour',
    created: '2026-01-02T03:04:05.000Z',
    changed: '2026-01-02T03:04:05.000Z',
    take,
    stems: [],
    fixes: [],
    cuts: 50,
    slices: Array.from({ length: 12 }, (_, i) => ({
      id: `s${i + 1}`,
      start: 1 + i / 2,
      landing: 1 + i / 2 + (i % 5 === 0 ? 0.06 : 0.001),
      end: 1.5 + i / 2,
      by: 'heard' as const,
    })),
    pads: [],
    lanes: [
      {
        ...lanes.plainLane,
        id: 'l1',
        name: 'straight',
        source: { kind: 'straight', from: 1, until: 5 },
      },
      { ...lanes.plainLane, id: 'l2', name: 'flip A', source: { kind: 'flip', placements: [] } },
    ],
  };
}

const time = fc.double({ min: 0, max: 8, noNaN: true });
const sliceId = fc.integer({ min: 1, max: 16 }).map((n) => `s${n}`);
const laneId = fc.integer({ min: 1, max: 4 }).map((n) => `l${n}`);
const placementIds = fc.array(
  fc.integer({ min: 1, max: 12 }).map((n) => `p${n}`),
  { maxLength: 4 },
);
const place = fc.constantFrom(...pads.padPlaces);
const beat = fc.double({ min: -4, max: 40, noNaN: true });
const bar = fc.integer({ min: -1, max: 5 });

const suggestion = fc
  .uniqueArray(fc.integer({ min: 2, max: 78 }), { maxLength: 20 })
  .map((tenths) => {
    const landings = tenths.sort((a, b) => a - b).map((n) => n / 10);
    return landings.map((landing, i) => ({
      start: landing - 0.01,
      landing,
      end: (landings[i + 1] ?? 8) - 0.01,
    }));
  });

const sentence = fc.record(
  {
    bars: fc.integer({ min: -3, max: 80 }),
    bpm: fc.double({ min: 1, max: 900 }),
    steady: fc.integer({ min: -10, max: 200 }),
    swing: fc.integer({ min: 0, max: 100 }),
    beatsPerBar: fc.integer({ min: 1, max: 9 }),
  },
  { requiredKeys: [] },
);

/** Any edit of the document, with arguments that often fit and sometimes do not. */
export const anyCommand: fc.Arbitrary<Command> = fc.oneof(
  fc
    .record({ id: sliceId, edge: fc.constantFrom('start' as const, 'end' as const), to: time })
    .map((a) => slices.moveEdge(a.id, a.edge, a.to)),
  fc.tuple(sliceId, time).map(([id, to]) => slices.moveLanding(id, to)),
  fc
    .tuple(sliceId, time)
    .map(([id, at]) => slices.splitSlice(id, at, [{ time: at + 0.05, strength: 1 }])),
  fc.array(sliceId, { maxLength: 3 }).map((ids) => slices.joinSlices(ids)),
  fc.array(sliceId, { maxLength: 2 }).map((ids) => slices.deleteSlices(ids)),
  fc.tuple(time, time).map(([a, b]) =>
    slices.addSlice({
      start: Math.min(a, b),
      landing: Math.min(a, b),
      end: Math.max(a, b) + 0.1,
    }),
  ),
  fc
    .tuple(fc.array(sliceId, { maxLength: 3 }), fc.double({ min: 0, max: 0.1 }))
    .map(([ids, fadeIn]) => slices.setFades(ids, { fadeIn })),
  fc
    .tuple(fc.integer({ min: 0, max: 100 }), suggestion)
    .map(([cuts, list]) => slices.setCuts(cuts, list)),
  time.map(beats.addBeat),
  fc.array(time, { maxLength: 4 }).map(beats.addTaps),
  fc.tuple(time, time).map(([a, b]) => beats.moveBeat(a, b)),
  time.map(beats.removeBeat),
  time.map(beats.markOne),
  fc.constantFrom(
    beats.changeLevel('double', 0),
    beats.changeLevel('half', 3),
    beats.changeWholeLevel('double', 3),
    beats.changeWholeLevel('half', 3),
    beats.shiftBeats(),
    beats.shiftBeats(3),
    beats.shiftBars(),
    beats.shiftBars(3),
    beats.clearFixes(),
  ),
  fc.tuple(place, sliceId).map(([p, id]) => pads.setPad(p, id)),
  fc
    .tuple(place, fc.integer({ min: -12, max: 12 }))
    .map(([p, semitones]) => pads.changePads([p], { semitones })),
  fc
    .tuple(place, fc.constantFrom('kept' as const, 'moved' as const))
    .map(([p, formants]) => pads.changePads([p], { formants })),
  fc.tuple(place, fc.integer({ min: 0, max: 4 })).map(([p, note]) => pads.learnNote(p, note)),
  fc.tuple(place, place).map(([a, b]) => pads.swapPads(a, b)),
  place.map((p) => pads.clearPads([p])),
  fc
    .tuple(fc.integer({ min: 0, max: 3 }), fc.array(sliceId, { maxLength: 12 }))
    .map(([row, ids]) => pads.fillRow(row, ids)),
  fc.constant(lanes.addLane({ kind: 'flip', placements: [] })),
  laneId.map(lanes.duplicateLane),
  laneId.map(lanes.deleteLane),
  fc.tuple(laneId, fc.string()).map(([id, name]) => lanes.renameLane(id, name)),
  fc.tuple(laneId, sentence).map(([id, patch]) => lanes.changeLane(id, patch)),
  fc.tuple(laneId, time, time).map(([id, a, b]) => lanes.setStretch(id, a, b)),
  fc
    .tuple(laneId, fc.array(fc.record({ slice: sliceId, at: beat }), { maxLength: 4 }))
    .map(([id, list]) => placements.placeSlices(id, list)),
  fc
    .tuple(
      laneId,
      fc.array(fc.record({ slice: sliceId, at: beat }), { maxLength: 3 }),
      fc.constantFrom('over' as const, 'instead' as const),
      beat,
    )
    .map(([id, list, how, until]) => placements.recordPass(id, list, how, until)),
  fc
    .tuple(laneId, placementIds, beat)
    .map(([id, ids, by]) => placements.movePlacements(id, ids, by)),
  fc
    .tuple(laneId, placementIds, fc.double({ min: 0.1, max: 3, noNaN: true }))
    .map(([id, ids, length]) => placements.changePlacements(id, ids, { length })),
  fc.tuple(laneId, placementIds).map(([id, ids]) => placements.removePlacements(id, ids)),
  fc
    .tuple(laneId, placementIds, fc.integer({ min: 0, max: 3 }))
    .map(([id, ids, n]) => placements.repeatPlacements(id, ids, 1, n)),
  fc.tuple(laneId, bar, bar).map(([id, a, b]) => placements.copyBar(id, a, b)),
  fc.tuple(laneId, bar).map(([id, b]) => placements.clearBar(id, b)),
  fc.tuple(laneId, fc.nat()).map(([id, seed]) => placements.varyPlacements(id, seed)),
  fc
    .tuple(place, laneId, placementIds, fc.integer({ min: -30, max: 30 }))
    .map(([at, lane, ids, semitones]) =>
      retune('tune', { places: [at], lane, placements: ids }, (slice) =>
        slice === 's2' ? null : { semitones, cents: 12 },
      ),
    ),
  fc.string().map(whole.renameProject),
  fc
    .record(
      {
        title: fc.option(fc.string(), { nil: undefined }),
        terms: fc.string(),
        bits: fc.constantFrom('16' as const, '32f' as const, undefined),
        sampleRate: fc.constantFrom(48000, undefined),
        stemSlices: fc.boolean(),
        loopName: fc.constantFrom('{lane} {bpm}', '{nothing}', '{', 'loop', ''),
        packing: fc.constantFrom('stored' as const, 'deflated' as const, undefined),
      },
      { requiredKeys: [] },
    )
    .map(whole.wishPack),
);
