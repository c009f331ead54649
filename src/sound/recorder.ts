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
  /** Hands over every pass that ended before a moment, whole and in order. */
  readonly settle: (at: Seconds) => void;
  /** Hands over what was played up to a moment. */
  readonly finish: (at: Seconds) => void;
}

/** Takes over what was played in a pass, which went from the lane's start to `until`. */
export type TakePass = (hits: readonly NewPlacement[], until: Beats) => void;

interface Taken {
  readonly pass: number;
  readonly began: Beats;
  readonly pad: Pad;
  readonly velocity: number;
  length: Beats | null;
}

const isHeld = (one: Taken) => one.length === null && one.pad.play !== 'through';

/** @param start the context's time of the lane's first beat */
export function makeRecorder(lane: Lane, start: Seconds, hand: TakePass): Recorder {
  const length = beatsOf(lane);
  let taken: Taken[] = [];
  const beatsAt = (at: Seconds): Beats => ((at - start) * lane.bpm) / 60;

  const handOver = (which: (one: Taken) => boolean, until: Beats) => {
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
        until,
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
      for (const next of new Set(taken.map((one) => one.pass))) {
        // A pass waits for the keys that are still held: in two parts the second would take the place of the first.
        if (next >= pass || taken.some((one) => one.pass === next && isHeld(one))) return;
        handOver((one) => one.pass === next, length);
      }
    },
    finish: (at) => {
      const beats = Math.max(beatsAt(at), 0);
      const pass = Math.floor(beats / length);
      const older = taken.some((one) => one.pass < pass);
      handOver(() => true, older ? length : beats - pass * length);
    },
  };
}
