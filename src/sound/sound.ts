import { type Accessor, createEffect, createSignal, on, onCleanup } from 'solid-js';
import type { Pad } from '../../shared/cut/pad.ts';
import type { Slice } from '../../shared/cut/slice.ts';
import type { Beat } from '../../shared/hear/heard.ts';
import type { Lane } from '../../shared/loop/lane.ts';
import type { Decibels, Seconds } from '../../shared/math/units.ts';
import type { Audio } from '../../shared/take/audio.ts';
import type { PadPlace } from '../store/pad-commands.ts';
import { type NewPlacement, placementsOf } from '../store/placement-commands.ts';
import type { createSettings } from '../store/settings.ts';
import { makeBuffers } from './buffers.ts';
import { createComparison, matchLoudness } from './comparison.ts';
import { createEngine, type Graph } from './engine.ts';
import { createLatencyTest } from './latency-test.ts';
import { createLoopPlayer, silentLoop } from './loop-player.ts';
import { createPadPlayer } from './pad-player.ts';
import { createPartChoice } from './parts.ts';
import { createPassRecording } from './pass-recording.ts';
import { createTakePlayer } from './take-player.ts';

/**
 * Everything that is heard. One thing plays at a time (the take, the loop or the comparison of both);
 * pads and single slices sound over it. Positions are read once a frame by whoever draws them.
 * Call `wake` inside every gesture: browsers let sound start, and start again, only there.
 */
export interface Sound {
  readonly state: Accessor<SoundState>;
  readonly wake: () => Promise<void>;
  readonly playing: Accessor<Playing>;
  readonly stop: () => void;

  /** Listening level, 0 dB at most. Starts quiet; only this call makes it louder. */
  readonly level: Accessor<Decibels>;
  readonly setLevel: (level: Decibels) => void;
  /** Highest peak put out since it was last read, in dBFS (-Infinity for silence). */
  readonly readPeak: () => Decibels;

  /** The recording that take, slices and pads are heard from; null for none. */
  readonly setTake: (take: SoundSource | null) => void;
  /** Which stems are silent, which alone are heard; by hash. Works on what sounds already. */
  readonly setStems: (muted: readonly string[], solo: readonly string[]) => void;
  /** Plays the take from a moment; to `until`, or round and round between both with `round`. */
  readonly playTake: (stretch?: Stretch) => Promise<void>;
  /** The moment of the take that is heard now; null when it isn't playing. */
  readonly takeTime: () => Seconds | null;
  /** The moment of the take that was heard at a moment of an event (`event.timeStamp`), less the measured latency. */
  readonly takeTimeAt: (timeStamp: number) => Seconds | null;

  readonly playSlice: (slice: Slice, id?: string) => Promise<void>;
  /** `velocity` 0 to 1. Sounds at the very next block once sound is awake. */
  readonly pressPad: (pad: Pad, slice: Slice, velocity?: number, timeStamp?: number) => void;
  readonly releasePad: (place: PadPlace) => void;
  /** The sound of a pad whose pitch was rendered; without it pitch is moved by speed. */
  readonly setPadSound: (place: PadPlace, sound: SoundSource | null) => void;
  /** Ids of slices that sound now on pads or by themselves, and places of the pads that do. */
  readonly sounding: Accessor<Sounding>;

  /** The loop that is heard. A new one takes over in place, at the same position, without a gap. */
  readonly setLoop: (loop: LoopSource | null) => void;
  readonly playLoop: (options?: { readonly from?: Seconds }) => Promise<void>;
  /** Plays the last beat into the first, round and round. */
  readonly playSeam: () => Promise<void>;
  /** The moment of the loop that is heard now; null when it isn't playing. */
  readonly loopTime: () => Seconds | null;

  /** A/B: original and loop at matched loudness; the louder one is turned down. */
  readonly compare: (side?: 'original' | 'loop') => Promise<void>;
  readonly side: Accessor<'original' | 'loop'>;
  readonly matched: Accessor<Matched | null>;

  /** A plain kick, hat or click under the loop. */
  readonly plainBeat: Accessor<PlainBeat>;
  readonly setPlainBeat: (beat: PlainBeat) => void;
  /** A click at each beat of the take while it plays. */
  readonly takeClick: Accessor<boolean>;
  readonly setTakeClick: (on: boolean, beats?: readonly Beat[]) => void;

  /** Counts one bar in, then takes down what is played on the pads against the loop, pass by pass. */
  readonly record: (options: RecordOptions) => Promise<void>;
  readonly recording: Accessor<'no' | 'counting in' | 'yes'>;

  /** Measures how late taps arrive: clicks are heard, `tapLatency` is called with each tap's `event.timeStamp`; the result is kept in the settings. */
  readonly testLatency: () => Promise<void>;
  readonly tapLatency: (timeStamp: number) => void;
  readonly latencyTest: Accessor<LatencyTest | null>;
}

export type SoundState = 'asleep' | 'starting' | 'running' | 'stopped by the system' | 'failed';
/** How a latency test stands; `latency` once it is known. */
export interface LatencyTest {
  readonly taps: number;
  readonly wanted: number;
  readonly latency: Seconds | null;
}

export type Playing = 'nothing' | 'take' | 'loop' | 'seam' | 'comparison' | 'latency test';

export interface SoundSource {
  readonly mix: Audio;
  readonly stems: readonly { readonly hash: string; readonly audio: Audio }[];
}

export interface LoopSource extends SoundSource {
  readonly lane: Lane;
  /** LUFS of the loop. */
  readonly loudness: Decibels;
  /** What it is compared with, and its LUFS. */
  readonly original: Stretch & { readonly loudness: Decibels };
}

export interface Stretch {
  readonly from?: Seconds;
  readonly until?: Seconds;
  readonly round?: boolean;
}

export interface Sounding {
  readonly slices: readonly string[];
  readonly pads: readonly PadPlace[];
}

/** Loudness of both sides (LUFS) and what is taken off each (dB, 0 or less). */
export interface Matched {
  readonly original: Decibels;
  readonly loop: Decibels;
  readonly originalBy: Decibels;
  readonly loopBy: Decibels;
}

export interface PlainBeat {
  readonly kick: boolean;
  readonly hat: boolean;
  readonly click: boolean;
}

export interface RecordOptions {
  readonly lane: Lane;
  /** Bars counted in first. @default 1 */
  readonly countIn?: number;
  /** Called at the end of each pass with what was played in it, positions in beats. */
  readonly pass: (hits: readonly NewPlacement[]) => void;
}

/**
 * Sets up sound; it ends with the owner. No context is opened before the first `wake`.
 *
 * @param settings remembers the listening level and the measured latency
 */
export function createSound({ settings, change }: ReturnType<typeof createSettings>): Sound {
  const engine = createEngine(settings.level);
  const buffers = makeBuffers();
  const choice = createPartChoice();
  const take = createTakePlayer(buffers, choice);
  const pads = createPadPlayer(buffers, choice);
  const loops = createLoopPlayer(buffers, choice);
  const comparison = createComparison(buffers);
  const recording = createPassRecording(engine, buffers, loops);
  const latency = createLatencyTest(buffers);
  const [level, setLevelNow] = createSignal(settings.level);
  const [playing, setPlaying] = createSignal<Playing>('nothing');
  const [side, setSide] = createSignal<'original' | 'loop'>('loop');
  const [matched, setMatched] = createSignal<Matched | null>(null);
  const [plainBeat, setBeat] = createSignal<PlainBeat>({ kick: false, hat: false, click: false });
  const [takeClick, setClick] = createSignal(false);

  let source: SoundSource | null = null;
  let loop: LoopSource | null = null;

  const now = (graph: Graph) => engine.heardAt(graph, performance.now());
  /** When something was meant that came in at a moment: less what key, hand and loudspeaker add. */
  const meantAt = (graph: Graph, timeStamp: number) =>
    engine.heardAt(graph, timeStamp) - (settings.latency ?? 0);

  /** Everything but pads gives way to what plays next. */
  const clear = () => {
    recording.end();
    latency.end();
    take.stop();
    loops.stop();
    comparison.stop();
    setPlaying('nothing');
  };
  /** The newest wish wins while sound is still waking up. */
  let wishes = 0;
  const start = async (what: Playing, run: (graph: Graph) => void) => {
    wishes += 1;
    const mine = wishes;
    const graph = await engine.wake();
    if (!graph || mine !== wishes) return;
    if (!(what === 'comparison' && playing() === 'comparison')) clear();
    setPlaying(what);
    run(graph);
  };

  // Made ready beforehand: a pad that is pressed has no time to copy a whole take.
  const prepare = (graph: Graph) => {
    if (source) buffers.of(graph, source.mix);
    if (loop) loops.prepare(graph, loop);
  };
  engine.onStart(prepare);
  engine.onEnd(() => {
    recording.end();
    latency.end();
    take.forget();
    loops.forget();
    comparison.forget();
    pads.forget();
    setPlaying('nothing');
  });
  onCleanup(clear);
  createEffect(
    on(choice.apart, () => {
      take.chooseParts();
      loops.chooseParts();
    }),
  );

  const pressPad: Sound['pressPad'] = (pad, slice, velocity = 1, timeStamp = performance.now()) => {
    const strike = (graph: Graph) => {
      if (source) pads.press(graph, source, pad, slice, velocity);
      recording.press(pad, meantAt(graph, timeStamp), velocity);
    };
    const graph = engine.graph();
    // Not through the promise when sound is awake: the pad has to sound in the very next block.
    if (graph) strike(graph);
    else void engine.wake().then((woken) => woken && strike(woken));
  };

  return {
    state: engine.state,
    wake: async () => {
      await engine.wake();
    },
    playing,
    stop: () => {
      wishes += 1;
      clear();
      pads.stop();
    },
    level,
    setLevel: (next) => {
      const held = Math.min(Math.max(next, -60), 0);
      setLevelNow(held);
      engine.setLevel(held);
      change({ level: held });
    },
    readPeak: engine.readPeak,

    setTake: (next) => {
      if (next === source) return;
      if (next && next.mix === source?.mix) {
        source = next;
        take.exchangeStems(next);
        return;
      }
      wishes += 1;
      clear();
      pads.stop();
      source = next;
      if (next) engine.setRate(next.mix.sampleRate);
      const graph = engine.graph();
      if (graph) prepare(graph);
    },
    setStems: (muted, solo) => {
      choice.set(muted, solo);
      take.chooseParts();
      loops.chooseParts();
    },
    playTake: (stretch = {}) =>
      start('take', (graph) => {
        if (source) take.play(graph, source, stretch, () => setPlaying('nothing'));
        else setPlaying('nothing');
      }),
    takeTime: () => {
      const graph = engine.graph();
      if (!graph) return null;
      const compared = comparison.positionAt(now(graph));
      if (compared) return compared.side === 'original' ? compared.at : null;
      return take.positionAt(now(graph));
    },
    takeTimeAt: (timeStamp) => {
      const graph = engine.graph();
      return graph && take.positionAt(meantAt(graph, timeStamp));
    },

    playSlice: async (slice, id = '') => {
      const graph = engine.graph() ?? (await engine.wake());
      if (graph && source) pads.playSlice(graph, source, slice, id);
    },
    pressPad,
    releasePad: (place) => {
      pads.release(place);
      const graph = engine.graph();
      if (graph) recording.release(place, meantAt(graph, performance.now()));
    },
    setPadSound: pads.setPadSound,
    sounding: pads.sounding,

    setLoop: (next) => {
      loop = next;
      setMatched(next && matchLoudness(next.original.loudness, next.loudness));
      const graph = engine.graph();
      if (graph) prepare(graph);
      if (next && playing() === 'loop') loops.exchange(next);
    },
    playLoop: ({ from = 0 } = {}) =>
      start('loop', (graph) => {
        if (loop) loops.play(graph, loop, { from });
        else setPlaying('nothing');
      }),
    playSeam: () =>
      start('seam', (graph) => {
        if (loop) loops.playSeam(graph, loop);
        else setPlaying('nothing');
      }),
    loopTime: () => {
      const graph = engine.graph();
      if (!graph) return null;
      const compared = comparison.positionAt(now(graph));
      if (compared) return compared.side === 'loop' ? compared.at : null;
      return loops.positionAt(now(graph));
    },

    compare: (wanted) =>
      start('comparison', (graph) => {
        if (!source || !loop) return void setPlaying('nothing');
        const other = side() === 'loop' ? 'original' : 'loop';
        const next = wanted ?? (comparison.positionAt(0) ? other : side());
        setSide(next);
        comparison.play(graph, source, loop, next);
      }),
    side,
    matched,

    plainBeat,
    setPlainBeat: (beat) => {
      setBeat(beat);
      loops.setPlainBeat(beat);
    },
    takeClick,
    setTakeClick: (on, beats = []) => {
      setClick(on);
      take.setClick(on, beats);
    },

    recording: recording.state,
    record: (options) =>
      start('loop', (graph) => {
        const { lane } = options;
        const empty = lane.source.kind === 'flip' && placementsOf(lane).length === 0;
        const ready = !empty && loop?.lane.id === lane.id ? loop : null;
        const rate = source?.mix.sampleRate ?? graph.native.sampleRate;
        recording.begin(graph, ready ?? silentLoop(lane, rate), options);
      }),

    testLatency: () =>
      start('latency test', (graph) => latency.begin(graph, () => setPlaying('nothing'))),
    tapLatency: (timeStamp) => {
      const graph = engine.graph();
      const measured = graph && latency.tap(engine.heardAt(graph, timeStamp));
      if (measured === null) return;
      change({ latency: measured });
      clear();
    },
    latencyTest: latency.state,
  };
}
