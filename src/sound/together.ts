import type { Graph } from './engine.ts';
import type { Voice } from './voice.ts';

/** Where voices go that are to begin on one sample, whichever block the audio thread is at meanwhile. */
export interface Together {
  readonly gate: InstanceType<Graph['tone']['Gain']>;
  /** The gate goes with the last of its voices. */
  readonly keep: (voices: readonly Voice[]) => void;
  /** Done when the gate opens: what gives way to these voices sounds until then, or a rest would be heard. */
  readonly asItOpens: (then: () => void) => void;
}

/**
 * Gathers what is struck in one turn of the page's work. The audio thread does not wait for that turn: of two
 * sources started in it, one may sound a block or more before the other. So they are joined behind a gate that
 * leads nowhere until the turn is over, and one connection lets all of them out. What nothing leads out of stands
 * still where sources are pulled (Chromium, WebKit); where they run by themselves (Firefox) a whole turn arrives at once.
 */
export function createTogether(): (graph: Graph) => Together {
  let open: { graph: Graph; together: Together } | null = null;
  return (graph) => {
    if (open?.graph === graph) return open.together;
    const gate = new graph.tone.Gain({ context: graph.context });
    let left = 0;
    const then: (() => void)[] = [];
    const together: Together = {
      gate,
      keep: (voices) => {
        left += voices.length;
        for (const voice of voices)
          voice.onEnd(() => {
            left -= 1;
            if (left === 0) gate.dispose();
          });
      },
      asItOpens: (next) => then.push(next),
    };
    open = { graph, together };
    queueMicrotask(() => {
      open = null;
      if (left === 0) gate.dispose();
      else gate.connect(graph.out);
      for (const next of then) next();
    });
    return together;
  };
}
