import { type Accessor, createMemo, createSignal, onCleanup } from 'solid-js';
import type { NamedSlice } from '../../../shared/cut/slice.ts';
import type { Lane } from '../../../shared/loop/lane.ts';
import { beatsOf } from '../../../shared/loop/length.ts';
import type { Sound } from '../../sound/sound.ts';
import type { LaneSetting } from '../lane/lane-words.ts';
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
export function createSounding(parts: {
  readonly sound: Sound;
  readonly slices: Accessor<readonly NamedSlice[]>;
  readonly lane: Accessor<Lane | null>;
  readonly setting: Accessor<LaneSetting>;
  readonly frames: Frames;
}): {
  readonly sounding: Accessor<ReadonlySet<string>>;
  readonly passing: Accessor<ReadonlySet<string>>;
} {
  const { sound, lane } = parts;
  const [under, setUnder] = createSignal<ReadonlySet<string>>(none, { equals: same });
  const [passing, setPassing] = createSignal<ReadonlySet<string>>(none, { equals: same });

  const look = () => {
    const slices = new Set<string>();
    const time = sound.takeTime();
    if (time !== null) {
      const slice = parts.slices().findLast((one) => one.landing <= time);
      if (slice && time < slice.end) slices.add(slice.id);
    }
    const passed = new Set<string>();
    const loop = sound.loopTime();
    const now = lane();
    if (loop !== null && now) {
      const beat = ((loop * now.bpm) / 60) % beatsOf(now);
      for (const word of parts.setting().words) {
        if (beat < word.at - 0.01 || beat >= word.until) continue;
        passed.add(word.id);
        slices.add(word.slice.id);
      }
    }
    setUnder(slices.size ? slices : none);
    setPassing(passed.size ? passed : none);
  };
  onCleanup(parts.frames.follow(look));

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
