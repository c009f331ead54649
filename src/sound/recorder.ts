import type { Pad } from '../../shared/cut/pad.ts';
import type { Lane } from '../../shared/loop/lane.ts';
import { beatsOf } from '../../shared/loop/length.ts';
import type { Beats, Seconds } from '../../shared/math/units.ts';
import { type PadPlace, samePlace } from '../store/pad-commands.ts';
import type { NewPlacement } from '../store/placement-commands.ts';

/** A hit this long before the first beat was meant for it. */
const early: Seconds = 0.2;

/**
 * Takes down what is played on the pads while the lane goes round. Times are the context's, as heard:
 * the caller takes off what loudspeaker, key and hand add.
 */
export interface Recorder {
  readonly press: (pad: Pad, at: Seconds, velocity: number) => void;
  readonly release: (place: PadPlace, at: Seconds) => void;
  /** Hands over every pass that ended before a moment. */
  readonly settle: (at: Seconds) => void;
  /** Hands over what was played so far. */
  readonly finish: () => void;
}

interface Taken {
  readonly pass: number;
  readonly began: Beats;
  readonly pad: Pad;
  readonly velocity: number;
  length: Beats | null;
}

/** @param start the context's time of the lane's first beat */
export function makeRecorder(
  lane: Lane,
  start: Seconds,
  hand: (hits: readonly NewPlacement[]) => void,
): Recorder {
  const length = beatsOf(lane);
  let taken: Taken[] = [];
  const beatsAt = (at: Seconds): Beats => ((at - start) * lane.bpm) / 60;

  const handOver = (which: (one: Taken) => boolean) => {
    const done = taken.filter(which);
    taken = taken.filter((one) => !which(one));
    if (done.length > 0)
      hand(
        done.map(({ pad, began, velocity, length: lasted }) => ({
          slice: pad.slice,
          at: began % length,
          length: lasted,
          semitones: pad.semitones,
          cents: pad.cents,
          level: Math.round((pad.level + 40 * Math.log10(Math.max(velocity, 0.01))) * 10) / 10,
          direction: pad.direction,
        })),
      );
  };

  return {
    press: (pad, at, velocity) => {
      if (at < start - early) return;
      const began = Math.max(beatsAt(at), 0);
      taken.push({ pass: Math.floor(began / length), began, pad, velocity, length: null });
    },
    release: (place, at) => {
      const last = taken.findLast((one) => samePlace(one.pad, place));
      if (last && last.length === null && last.pad.play !== 'through')
        last.length = Math.max(beatsAt(at) - last.began, 0.05);
    },
    settle: (at) => {
      const pass = Math.floor(beatsAt(at) / length);
      // A key that is still held belongs to the pass in which it goes up.
      handOver((one) => one.pass < pass && (one.length !== null || one.pad.play === 'through'));
    },
    finish: () => handOver(() => true),
  };
}
