import type { Onset } from '../../shared/hear/heard.ts';
import type { Seconds } from '../../shared/math/units.ts';
import { addTaps } from '../store/beat-commands.ts';
import type { Gesture, ProjectStore } from '../store/project-store.ts';
import type { Sound } from './sound.ts';

/** How far a tap looks for the attack that it was meant for. */
const reach: Seconds = 0.09;

/**
 * The attack that a tap was likely meant for: strong ones draw from further off than weak ones. The tap
 * itself where there is none, since a beat may fall into a rest.
 */
export function snapTap(tap: Seconds, onsets: readonly Onset[]): Seconds {
  let best: Onset | undefined;
  let score = 0;
  for (const onset of onsets) {
    const distance = Math.abs(onset.time - tap);
    if (distance > reach) continue;
    const pull = (0.2 + onset.strength) * (1 - distance / reach);
    if (pull > score) {
      score = pull;
      best = onset;
    }
  }
  return best?.time ?? tap;
}

/** Beats tapped along with the take: one undo step for the run. What is edited or taken back meanwhile begins another. */
export interface TapAlong {
  /** @param timeStamp the event's; returns where the beat was put, null when the take doesn't play. */
  readonly tap: (timeStamp: number) => Seconds | null;
  readonly done: () => void;
  readonly cancel: () => void;
}

/** Begins a run of taps. Beats between are inferred again at each tap. */
export function makeTapAlong(sound: Sound, store: ProjectStore): TapAlong {
  let gesture: Gesture = store.gesture('tap beats');
  return {
    tap: (timeStamp) => {
      const heard = sound.takeTimeAt(timeStamp);
      if (heard === null) return null;
      const time = snapTap(heard, store.heard()?.onsets ?? []);
      if (!gesture.open()) gesture = store.gesture('tap beats');
      gesture.add(addTaps([time]));
      return time;
    },
    done: () => gesture.done(),
    cancel: () => gesture.cancel(),
  };
}
