import { type Accessor, createEffect, createMemo, createSignal, on, onCleanup } from 'solid-js';
import type { NamedSlice } from '../../shared/cut/slice.ts';
import type { Lane } from '../../shared/loop/lane.ts';
import type { Seconds } from '../../shared/math/units.ts';
import { placementsOf } from '../store/placement-commands.ts';
import type { Project } from '../store/project.ts';
import type { ProjectStore } from '../store/project-store.ts';
import type { Loop, TakeSound } from './desk.ts';
import { isAbort, untilAnswered } from './job-client.ts';
import type { RenderInput } from './jobs.ts';
import type { WorkerLine } from './workers.ts';

/** Edits that come quicker than this are rendered together, in milliseconds. */
const pause = 60;

/** The lane in view; the first one where the session names none or one that is gone. */
export function laneInView(project: Project | null, named: string | null): Lane | null {
  return project?.lanes.find((lane) => lane.id === named) ?? project?.lanes[0] ?? null;
}

/** The stretch of the take that a lane is compared with: what it plays, or what its slices span. */
function originalOf(lane: Lane, project: Project): { from: Seconds; until: Seconds } {
  if (lane.source.kind === 'straight') return { from: lane.source.from, until: lane.source.until };
  const placed = new Set(placementsOf(lane).map((placement) => placement.slice));
  const slices = project.slices.filter((slice) => placed.has(slice.id));
  if (slices.length === 0) return { from: 0, until: project.take.seconds };
  return {
    from: Math.min(...slices.map((slice) => slice.start)),
    until: Math.max(...slices.map((slice) => slice.end)),
  };
}

/** Only the slices that a lane plays matter to its sound, so an edit elsewhere renders nothing. */
function slicesFor(lane: Lane, project: Project): readonly NamedSlice[] {
  if (lane.source.kind === 'straight') return project.slices;
  const placed = new Set(placementsOf(lane).map((placement) => placement.slice));
  return project.slices.filter((slice) => placed.has(slice.id));
}

/** Everything that a lane's rendering depends on; null where there is nothing to render. */
export function renderInput(
  store: ProjectStore,
  lane: Lane | null,
  stems: boolean,
): RenderInput | null {
  const project = store.project();
  const heard = store.heard();
  if (!project || !heard || !lane) return null;
  if (lane.source.kind === 'flip' && lane.source.placements.length === 0) return null;
  const { onsets, beats } = heard;
  return {
    lane,
    slices: slicesFor(lane, project),
    heard: { onsets, beats },
    original: originalOf(lane, project),
    stems,
  };
}

const sameSlices = (a: readonly NamedSlice[], b: readonly NamedSlice[]) =>
  a === b || (a.length === b.length && a.every((slice, i) => slice === b[i]));

function sameInput(a: RenderInput | null, b: RenderInput | null): boolean {
  if (!a || !b) return a === b;
  const { name: _a, ...laneA } = a.lane;
  const { name: _b, ...laneB } = b.lane;
  const keys = Object.keys(laneA) as (keyof typeof laneA)[];
  return (
    keys.every((key) => laneA[key] === laneB[key]) &&
    sameSlices(a.slices, b.slices) &&
    a.heard.beats === b.heard.beats &&
    a.heard.onsets === b.heard.onsets &&
    a.stems === b.stems
  );
}

/** What the worker rendered, as the page knows it. */
export async function renderLoop(
  line: WorkerLine,
  signal: AbortSignal,
  input: RenderInput,
  sound: TakeSound,
  progress?: (share: number, doing: string) => void,
): Promise<Loop> {
  const done = await line.jobs.render(signal, input, progress);
  const [mix, ...stems] = done.outputs;
  return {
    mix: mix ?? { sampleRate: sound.mix.sampleRate, channels: [] },
    stems: sound.stems.flatMap(({ hash, label }, i) => {
      const audio = stems[i];
      return audio ? [{ hash, label, audio }] : [];
    }),
    lane: input.lane,
    loudness: done.loudness,
    original: { ...input.original, loudness: done.originalLoudness },
    seam: done.seam.verdict,
    attacks: done.landings.map(({ at, grid, placement }) => ({ at, off: at - grid, placement })),
  };
}

export interface LiveLoop {
  readonly loop: Accessor<Loop | null>;
  /** Whether `loop` is behind the document. */
  readonly rendering: Accessor<boolean>;
}

/** Keeps the loop of the lane in view rendered. The old one stays until the new one is there. */
export function createLiveLoop(
  store: ProjectStore,
  sound: Accessor<TakeSound | null>,
  line: WorkerLine,
  fail: (error: unknown) => void,
): LiveLoop {
  const [loop, setLoop] = createSignal<Loop | null>(null);
  const [rendering, setRendering] = createSignal(false);
  let wish: AbortController | null = null;
  let timer: ReturnType<typeof setTimeout> | undefined;

  const input = createMemo(
    () => {
      const lane = laneInView(store.project(), store.session.lane);
      const apart = store.session.muted.length + store.session.solo.length > 0;
      return sound() ? renderInput(store, lane, apart) : null;
    },
    null,
    { equals: sameInput },
  );
  /** What of the sound is rendered: stems are nothing to the mix alone. */
  const source = createMemo(() => (input()?.stems ? sound() : sound()?.mix));

  const render = async (next: RenderInput, take: TakeSound, mine: AbortController) => {
    try {
      const done = await untilAnswered(mine.signal, () =>
        renderLoop(line, mine.signal, next, take),
      );
      if (wish === mine) setLoop(done);
    } catch (error) {
      if (isAbort(error)) return;
      if (wish === mine) setLoop(null);
      fail(error);
    } finally {
      if (wish === mine) {
        wish = null;
        setRendering(false);
      }
    }
  };

  createEffect(
    on([input, source], ([next]) => {
      clearTimeout(timer);
      wish?.abort();
      wish = null;
      const take = sound();
      if (!next || !take) {
        setLoop(null);
        setRendering(false);
        return;
      }
      // The loop of another lane is not an older state of this one.
      setLoop((now) => (now && now.lane.id === next.lane.id ? now : null));
      setRendering(true);
      const mine = new AbortController();
      wish = mine;
      timer = setTimeout(() => void render(next, take, mine), pause);
    }),
  );
  onCleanup(() => {
    clearTimeout(timer);
    wish?.abort();
  });
  return { loop, rendering };
}
