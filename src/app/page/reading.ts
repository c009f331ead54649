import { type Accessor, createSignal } from 'solid-js';
import type { Seconds } from '../../../shared/math/units.ts';

/** What the sheet shows just now, shared with the strip's frame. */
export interface Reading {
  readonly from: Accessor<Seconds>;
  readonly until: Accessor<Seconds>;
  readonly show: (from: Seconds, until: Seconds) => void;
  /** Reads on from a moment; set by the sheet. */
  readonly goTo: (time: Seconds) => void;
  readonly onGoTo: (go: (time: Seconds) => void) => void;
}

export function createReading(): Reading {
  const [from, setFrom] = createSignal<Seconds>(0);
  const [until, setUntil] = createSignal<Seconds>(0);
  let go: (time: Seconds) => void = () => {};
  return {
    from,
    until,
    show: (a, b) => {
      setFrom(a);
      setUntil(b);
    },
    goTo: (time) => go(time),
    onGoTo: (next) => {
      go = next;
    },
  };
}
