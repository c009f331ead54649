import { type Accessor, untrack } from 'solid-js';
import type { Slice } from '../../shared/cut/slice.ts';
import type { PitchShift } from '../../shared/warp/pitch.ts';
import type { TakeSound } from './desk.ts';
import type { WorkerLine } from './workers.ts';

/** Slices at other pitches kept for the next time; about a pad for every key. */
const most = 48;

/** Renders slices at other pitches, each once for a take. */
export function makePitches(
  line: WorkerLine,
  sound: Accessor<TakeSound | null>,
  fail: (error: unknown) => void,
): (slice: Slice, shift: PitchShift) => Promise<TakeSound | null> {
  let take: TakeSound | null = null;
  let known = new Map<string, Promise<TakeSound | null>>();

  const render = async (now: TakeSound, slice: Slice, shift: PitchShift) => {
    const never = new AbortController().signal;
    const [mix, ...stems] = await line.jobs.pitch(never, { slice, ...shift });
    if (!mix) return null;
    return { mix, stems: now.stems.map((stem, i) => ({ ...stem, audio: stems[i] ?? mix })) };
  };

  return (slice, shift) => {
    const now = untrack(sound);
    if (now !== take) {
      take = now;
      known = new Map();
    }
    if (!now) return Promise.resolve(null);
    const key = [slice.start, slice.end, shift.semitones, shift.cents, shift.formants].join(' ');
    const there = known.get(key);
    if (there) return there;
    const mine = known;
    const made = render(now, slice, shift).catch((error: unknown) => {
      mine.delete(key);
      fail(error);
      return null;
    });
    if (known.size >= most) known.delete(known.keys().next().value ?? '');
    known.set(key, made);
    return made;
  };
}
