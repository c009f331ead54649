import { type Accessor, createMemo, createSignal, onCleanup } from 'solid-js';
import type { Lane } from '../../../shared/loop/lane.ts';
import type { Sound } from '../../sound/sound.ts';
import { beatsOf } from '../../store/placement-commands.ts';
import type { ProjectStore } from '../../store/project-store.ts';
import { setLane } from '../lane/lane-words.ts';
import type { Frames } from './frames.ts';

const none: ReadonlySet<string> = new Set();

function same(a: ReadonlySet<string>, b: ReadonlySet<string>): boolean {
  if (a.size !== b.size) return false;
  for (const id of a) if (!b.has(id)) return false;
  return true;
}

/**
 * What sounds now, on sheet, pads and lane at once: slices that are played, the slice under the take's
 * play head, and the words that the loop passes over. Asked once a frame, told only when it changes.
 */
export function createSounding(
  store: ProjectStore,
  sound: Sound,
  lane: Accessor<Lane | null>,
  frames: Frames,
): {
  readonly sounding: Accessor<ReadonlySet<string>>;
  readonly passing: Accessor<ReadonlySet<string>>;
} {
  const [under, setUnder] = createSignal<ReadonlySet<string>>(none, { equals: same });
  const [passing, setPassing] = createSignal<ReadonlySet<string>>(none, { equals: same });
  const words = createMemo(() => {
    const now = lane();
    const project = store.project();
    const heard = store.heard();
    return now && project && heard ? setLane(now, project.slices, heard).words : [];
  });

  const look = () => {
    const slices = new Set<string>();
    const time = sound.takeTime();
    if (time !== null) {
      const slice = store.project()?.slices.findLast((one) => one.landing <= time);
      if (slice && time < slice.end) slices.add(slice.id);
    }
    const passed = new Set<string>();
    const loop = sound.loopTime();
    const now = lane();
    if (loop !== null && now) {
      const beat = ((loop * now.bpm) / 60) % beatsOf(now);
      for (const word of words()) {
        if (beat < word.at - 0.01 || beat >= word.until) continue;
        passed.add(word.id);
        slices.add(word.slice.id);
      }
    }
    setUnder(slices.size ? slices : none);
    setPassing(passed.size ? passed : none);
  };
  onCleanup(frames.follow(look));

  const sounding = createMemo(
    () => {
      const played = sound.sounding().slices;
      return played.length ? new Set([...under(), ...played]) : under();
    },
    none,
    { equals: same },
  );
  return { sounding, passing };
}
