import { type Accessor, createSignal } from 'solid-js';
import type { PadPlace } from '../../store/pad-commands.ts';

/** Words carried by the hand from the sheet to a pad or to the lane. */
export interface Carried {
  readonly slices: readonly string[];
  /** The pad they were taken from, if they were. */
  readonly from: PadPlace | null;
  readonly x: number;
  readonly y: number;
}

export interface Carrying {
  readonly carried: Accessor<Carried | null>;
  readonly lift: (slices: readonly string[], x: number, y: number, from?: PadPlace) => void;
  readonly move: (x: number, y: number) => void;
  /** Lets go over whatever lies there; answers whether something took the words. */
  readonly drop: (x: number, y: number) => boolean;
  readonly cancel: () => void;
  /** A place that takes words; the result takes it away again. */
  readonly onDrop: (take: DropPlace) => () => void;
}

/** Takes words at a point of the screen; false when it isn't there. */
export type DropPlace = (carried: Carried, x: number, y: number) => boolean;

export function createCarrying(): Carrying {
  const [carried, setCarried] = createSignal<Carried | null>(null);
  const places = new Set<DropPlace>();
  return {
    carried,
    lift: (slices, x, y, from) => setCarried({ slices, x, y, from: from ?? null }),
    move: (x, y) => setCarried((now) => now && { ...now, x, y }),
    drop: (x, y) => {
      const now = carried();
      setCarried(null);
      if (!now) return false;
      for (const take of places) if (take(now, x, y)) return true;
      return false;
    },
    cancel: () => setCarried(null),
    onDrop: (take) => {
      places.add(take);
      return () => places.delete(take);
    },
  };
}
