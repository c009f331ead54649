import type { Lane, LaneSource } from '../../shared/loop/lane.ts';
import type { Seconds } from '../../shared/math/units.ts';
import { type Command, freshId, mapChanged, patched } from './command.ts';
import type { Project } from './project.ts';

/** Edits of the lanes, which stand side by side as versions of the loop. */

/** What the sentence of the lane says. */
export type LaneSettings = Omit<Lane, 'id' | 'name' | 'source'>;

export const plainLane: LaneSettings = {
  bars: 4,
  beatsPerBar: 4,
  beatUnit: 4,
  bpm: 90,
  steady: 100,
  tighten: 0,
  grid: '16',
  swing: 50,
};

/** The limits of each number in the sentence, both ends inclusive. */
export const laneLimits = {
  bars: { from: 1, until: 64 },
  beatsPerBar: { from: 1, until: 16 },
  bpm: { from: 30, until: 300 },
  steady: { from: 0, until: 100 },
  tighten: { from: 0, until: 100 },
  swing: { from: 50, until: 80 },
} as const;

const laneIds = (project: Project) => project.lanes.map((lane) => lane.id);

/** The identity the next lane will get, so that the caller can show it at once. */
export function nextLaneId(project: Project): string {
  return freshId('l', laneIds(project));
}

/** "flip A", "flip B", ...: the first name of its kind that no lane bears. */
function freeLaneName(project: Project, kind: LaneSource['kind']): string {
  const taken = new Set(project.lanes.map((lane) => lane.name));
  if (kind === 'straight' && !taken.has('straight')) return 'straight';
  for (let n = 0; ; n++) {
    const tail = kind === 'straight' ? String(n + 2) : letters(n);
    const name = `${kind} ${tail}`;
    if (!taken.has(name)) return name;
  }
}

function letters(n: number): string {
  const tail = String.fromCharCode(65 + (n % 26));
  return n < 26 ? tail : letters(Math.floor(n / 26) - 1) + tail;
}

/** Adds a lane at the end. */
export function addLane(
  source: LaneSource,
  settings: Partial<LaneSettings> = {},
  name?: string,
): Command {
  return {
    label: source.kind === 'straight' ? 'make a straight loop' : 'start a flip',
    apply: (project) => {
      const lane: Lane = limited({
        ...plainLane,
        ...settings,
        id: nextLaneId(project),
        name: name ?? freeLaneName(project, source.kind),
        source,
      });
      return { ...project, lanes: [...project.lanes, lane] };
    },
  };
}

/** Sets a lane beside the one it copies. */
export function duplicateLane(id: string): Command {
  return {
    label: 'duplicate a lane',
    apply: (project) => {
      const i = project.lanes.findIndex((lane) => lane.id === id);
      const lane = project.lanes[i];
      if (!lane) return project;
      const copy = {
        ...lane,
        id: nextLaneId(project),
        name: freeLaneName(project, lane.source.kind),
      };
      return {
        ...project,
        lanes: [...project.lanes.slice(0, i + 1), copy, ...project.lanes.slice(i + 1)],
      };
    },
  };
}

export function deleteLane(id: string): Command {
  return {
    label: 'delete a lane',
    apply: (project) => {
      const lanes = project.lanes.filter((lane) => lane.id !== id);
      return lanes.length === project.lanes.length ? project : { ...project, lanes };
    },
  };
}

export function renameLane(id: string, name: string): Command {
  return changeOne(id, 'rename a lane', (lane) =>
    patched(lane, { name: name.trim() || lane.name }),
  );
}

const words: Record<keyof LaneSettings, string> = {
  bars: 'change the bars',
  beatsPerBar: 'change the metre',
  beatUnit: 'change the metre',
  bpm: 'change the tempo',
  steady: 'change how steady',
  tighten: 'change how tight',
  grid: 'change the grid',
  swing: 'change the swing',
};

/** Changes values of the lane's sentence; each is held within `laneLimits`. */
export function changeLane(id: string, patch: Partial<LaneSettings>): Command {
  const [first] = Object.keys(patch) as (keyof LaneSettings)[];
  return changeOne(id, first ? words[first] : 'change a lane', (lane) => {
    const next = limited({ ...lane, ...patch });
    return patched(lane, next);
  });
}

/** Lets a straight lane play another stretch of the take, from beat to beat. */
export function setStretch(id: string, from: Seconds, until: Seconds): Command {
  return changeOne(id, 'change what the loop plays', (lane) => {
    if (until <= from) return lane;
    const { source } = lane;
    if (source.kind === 'straight' && source.from === from && source.until === until) return lane;
    return { ...lane, source: { kind: 'straight', from, until } };
  });
}

/** Changes one lane; nothing when it is gone. */
export function changeOne(id: string, label: string, change: (lane: Lane) => Lane): Command {
  return {
    label,
    apply: (project) =>
      patched(project, {
        lanes: mapChanged(project.lanes, (lane) => (lane.id === id ? change(lane) : lane)),
      }),
  };
}

function limited(lane: Lane): Lane {
  const held = { ...lane };
  for (const key of Object.keys(laneLimits) as (keyof typeof laneLimits)[]) {
    const { from, until } = laneLimits[key];
    const value = lane[key];
    held[key] = Number.isFinite(value) ? Math.min(Math.max(value, from), until) : plainLane[key];
  }
  held.bars = Math.round(held.bars);
  held.beatsPerBar = Math.round(held.beatsPerBar);
  return held;
}
