import { type Accessor, createSignal } from 'solid-js';
import type { Engine, Graph } from './engine.ts';
import type { Playing } from './sound.ts';

/** Whose turn it is to sound: one thing plays at a time, and the newest wish wins. */
export interface Turns {
  readonly playing: Accessor<Playing>;
  /** Wakes sound inside the gesture, lets what plays give way, and begins. */
  readonly start: (what: Playing, begin: (graph: Graph) => void) => Promise<void>;
  /** What played has come to its end, or could not begin. */
  readonly ended: () => void;
  /** Silences what plays. */
  readonly clear: () => void;
  /** The same, and whatever is still waking up to begin gives way too. */
  readonly stop: () => void;
}

/** @param silence ends whatever plays, but for pads, which sound over it */
export function createTurns(engine: Engine, silence: () => void): Turns {
  const [playing, setPlaying] = createSignal<Playing>('nothing');
  let wishes = 0;
  const ended = () => void setPlaying('nothing');
  const clear = () => {
    silence();
    ended();
  };
  return {
    playing,
    ended,
    clear,
    stop: () => {
      wishes += 1;
      clear();
    },
    start: async (what, begin) => {
      wishes += 1;
      const mine = wishes;
      const graph = await engine.wake();
      if (!graph || mine !== wishes) return;
      // The sides of a comparison give way to each other by themselves.
      if (!(what === 'comparison' && playing() === 'comparison')) clear();
      setPlaying(what);
      begin(graph);
    },
  };
}
