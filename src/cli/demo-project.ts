import { type HeardTake, slicesOf } from '../../shared/cut/hear-take.ts';
import type { NamedSlice } from '../../shared/cut/slice.ts';
import type { Phrase } from '../../shared/hear/heard.ts';
import type { Lane, Placement } from '../../shared/loop/lane.ts';
import type { Beats, Seconds } from '../../shared/math/units.ts';
import { beatAt, makeBeatClock, medianTempo } from '../../shared/time/beat-clock.ts';
import { nearestGridPoint } from '../../shared/time/grid.ts';
import { plainLane } from '../store/lane-commands.ts';
import { plainPlacement } from '../store/placement-commands.ts';
import type { Project, SourceFile, StemFile } from '../store/project.ts';

/** Fixed, so that the demo's files are the same bytes every time. */
const moment = '2026-01-01T12:00:00.000Z';
const cuts = 50;
const bars = 4;
/** The order in which the flip plays the straight loop's half bars. */
const halves = [4, 5, 0, 1, 6, 3, 2, 7];

/** A project as a user would have made it of the demo take: its slices, a straight lane and a flip of it. */
export function demoProject(
  name: string,
  take: SourceFile,
  stems: readonly StemFile[],
  heard: HeardTake,
): Project {
  const slices = slicesOf(heard, cuts).map(
    (slice, i): NamedSlice => ({ ...slice, id: `s${i + 1}`, by: 'heard' }),
  );
  return {
    version: 1,
    id: 'demo',
    name,
    created: moment,
    changed: moment,
    take,
    stems,
    fixes: [],
    cuts,
    slices,
    pads: [],
    lanes: demoLanes(heard, slices),
  };
}

/** Four bars from the first full one of the loudest phrase, straight, and the same material turned round. */
function demoLanes(heard: HeardTake, slices: readonly NamedSlice[]): Lane[] {
  const { beats, phrases } = heard;
  const loudest = phrases.reduce<Phrase | null>(
    (best, phrase) => (best && best.energy >= phrase.energy ? best : phrase),
    null,
  );
  const first = Math.max(
    beats.findIndex((beat) => beat.count === 1 && beat.time >= (loudest?.start ?? 0) - 0.05),
    0,
  );
  const beatsPerBar = Math.max(...beats.slice(first, first + 16).map((beat) => beat.count), 1);
  const last = Math.min(first + bars * beatsPerBar, beats.length - 1);
  if (last <= first) return [];
  const [from, until] = [beats[first].time, beats[last].time];
  const times = beats.map((beat) => beat.time);
  const settings = {
    ...plainLane,
    bars,
    beatsPerBar,
    bpm: Math.round(medianTempo(times.slice(first, last + 1))),
  };
  const place = (time: Seconds): Beats =>
    nearestGridPoint(beatAt(makeBeatClock(times), time) - first, settings.grid, settings.swing);
  const half = beatsPerBar / 2;
  const placements = slices.flatMap((slice, i): Placement[] => {
    const at = place(slice.landing);
    const to = halves.indexOf(Math.floor(at / half));
    if (slice.landing < from - 0.05 || at < 0 || to < 0) return [];
    return [{ ...plainPlacement, id: `p${i + 1}`, slice: slice.id, at: to * half + (at % half) }];
  });
  return [
    { ...settings, id: 'l1', name: 'straight', source: { kind: 'straight', from, until } },
    { ...settings, id: 'l2', name: 'flip A', source: { kind: 'flip', placements } },
  ];
}
