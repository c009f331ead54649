import { type Accessor, createSignal } from 'solid-js';
import type { Pad } from '../../shared/cut/pad.ts';
import type { Lane } from '../../shared/loop/lane.ts';
import type { Seconds } from '../../shared/math/units.ts';
import type { PadPlace } from '../store/pad-commands.ts';
import type { Buffers } from './buffers.ts';
import type { Engine, Graph } from './engine.ts';
import type { LoopPlayer } from './loop-player.ts';
import { renderCountIn } from './plain-beat.ts';
import { makeRecorder, type Recorder, type TakePass } from './recorder.ts';
import type { LoopSource, RecordOptions } from './sound.ts';
import { makeVoice } from './voice.ts';

/** How often passes are handed over, in milliseconds. */
const settling = 100;

/** Counts in, lets the loop go round, and takes down what is played on the pads. */
export interface PassRecording {
  readonly state: Accessor<'no' | 'counting in' | 'yes'>;
  readonly begin: (graph: Graph, loop: LoopSource, options: RecordOptions) => void;
  /** @param at the context's time at which it was meant */
  readonly press: (pad: Pad, at: Seconds, velocity: number) => void;
  readonly release: (place: PadPlace, at: Seconds) => void;
  /** From a moment on the lane has another tempo or another length; it stands at `position` then. */
  readonly goOn: (lane: Lane, at: Seconds, position: Seconds) => void;
  /** Hands over what was played so far. The loop is not its to stop. */
  readonly end: () => void;
}

export function createPassRecording(
  engine: Engine,
  buffers: Buffers,
  loops: LoopPlayer,
): PassRecording {
  const [state, setState] = createSignal<'no' | 'counting in' | 'yes'>('no');
  let now: { graph: Graph; recorder: Recorder; pass: TakePass; end: () => void } | null = null;

  return {
    state,
    begin: (graph, loop, { lane, countIn = 1, pass }) => {
      const clicks =
        countIn > 0 ? buffers.of(renderCountIn(lane, countIn, loop.mix.sampleRate)) : null;
      loops.prepare(loop);
      const from = graph.native.currentTime + 0.1;
      const first = from + (countIn * lane.beatsPerBar * 60) / lane.bpm;
      const voice = clicks
        ? makeVoice(graph, { buffer: clicks, destination: graph.out, at: from })
        : null;
      loops.play(graph, loop, { at: first, from: 0 });
      const step = () => {
        const heard = engine.heardAt(graph, performance.now());
        if (heard >= first) setState('yes');
        now?.recorder.settle(heard - 0.1);
      };
      const timer = setInterval(step, settling);
      setState(countIn > 0 ? 'counting in' : 'yes');
      now = {
        graph,
        recorder: makeRecorder(lane, first, pass),
        pass,
        end: () => {
          clearInterval(timer);
          voice?.stop(0.005);
        },
      };
    },
    press: (pad, at, velocity) => now?.recorder.press(pad, at, velocity),
    release: (place, at) => now?.recorder.release(place, at),
    goOn: (lane, at, position) => {
      if (!now) return;
      now.recorder.finish(at);
      now.recorder = makeRecorder(lane, at - position, now.pass);
    },
    end: () => {
      const old = now;
      now = null;
      if (!old) return;
      old.end();
      setState('no');
      old.recorder.finish(engine.heardAt(old.graph, performance.now()));
    },
  };
}
