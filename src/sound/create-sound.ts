import { createEffect, createSignal, on, onCleanup } from 'solid-js';
import type { Lane } from '../../shared/loop/lane.ts';
import { type PadPlace, samePlace } from '../store/pad-commands.ts';
import { placementsOf } from '../store/placement-commands.ts';
import type { createSettings } from '../store/settings.ts';
import { makeBuffers } from './buffers.ts';
import { createComparison, matchLoudness } from './comparison.ts';
import { createEngine, type Graph } from './engine.ts';
import { createLatencyTest } from './latency-test.ts';
import { createLoopPlayer, silentLoop } from './loop-player.ts';
import { createPadPlayer } from './pad-player.ts';
import { createPartChoice } from './parts.ts';
import { createPassRecording } from './pass-recording.ts';
import type { LoopSource, Matched, PlainBeat, Sound, SoundSource } from './sound.ts';
import { createTakePlayer } from './take-player.ts';
import { createTurns } from './turns.ts';

/** Whether a beat of one lane is a beat of the other. */
const sameTime = (a: Lane, b: Lane) =>
  a.bpm === b.bpm && a.bars === b.bars && a.beatsPerBar === b.beatsPerBar;

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
  const [side, setSide] = createSignal<'original' | 'loop'>('loop');
  const [matched, setMatched] = createSignal<Matched | null>(null);
  const [plainBeat, setBeat] = createSignal<PlainBeat>({ kick: false, hat: false, click: false });
  const [takeClick, setClick] = createSignal(false);

  let source: SoundSource | null = null;
  let loop: LoopSource | null = null;
  /** Pads that were pressed before sound was awake. */
  let waking: (PadPlace & { released: boolean })[] = [];
  /** The lane that was played in last. */
  let played: Lane | null = null;

  const rateOf = (graph: Graph | null) =>
    source?.mix.sampleRate ?? graph?.native.sampleRate ?? 44100;
  const now = (graph: Graph) => engine.heardAt(graph, performance.now());
  /** When something was meant that came in at a moment: less what key, hand and loudspeaker add. */
  const meantAt = (graph: Graph, timeStamp: number) =>
    engine.heardAt(graph, timeStamp) - (settings.latency ?? 0);

  const turns = createTurns(engine, () => {
    recording.end();
    latency.end();
    take.stop();
    loops.stop();
    comparison.stop();
  });
  const { playing, start, ended } = turns;

  // Made ready beforehand: a pad that is pressed has no time to copy a whole take.
  engine.onStart(() => {
    if (source) buffers.of(source.mix);
    if (loop) loops.prepare(loop);
  });
  engine.onEnd(() => {
    recording.end();
    latency.end();
    take.forget();
    loops.forget();
    comparison.forget();
    pads.forget();
    ended();
  });
  onCleanup(turns.clear);
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
    else {
      const press = { row: pad.row, key: pad.key, released: false };
      waking.push(press);
      void engine.wake().then((woken) => {
        waking = waking.filter((one) => one !== press);
        if (!woken) return;
        strike(woken);
        if (press.released) releasePad(pad);
      });
    }
  };
  const releasePad: Sound['releasePad'] = (place) => {
    // What went up while sound was still waking goes as soon as it sounds.
    for (const press of waking) if (samePlace(press, place)) press.released = true;
    pads.release(place);
    const graph = engine.graph();
    if (graph) recording.release(place, meantAt(graph, performance.now()));
  };

  /** What plays of the loop goes on with a newer one. */
  const exchange = (graph: Graph, next: LoopSource) => {
    if (playing() === 'seam') loops.playSeam(graph, next);
    else if (playing() === 'comparison' && source) comparison.play(graph, source, next, side());
    else if (playing() === 'loop') {
      const taken = loops.exchange(next);
      if (taken && played && !sameTime(played, next.lane)) {
        recording.goOn(next.lane, taken.at, taken.position);
        played = next.lane;
      }
    }
  };
  /** There is no loop any more. What is being played in goes on over nothing. */
  const silence = () => {
    if (playing() === 'loop' && played && recording.state() !== 'no')
      loops.exchange(silentLoop(played, rateOf(engine.graph())));
    else if (['loop', 'seam', 'comparison'].includes(playing())) turns.stop();
  };

  return {
    state: engine.state,
    wake: async () => {
      await engine.wake();
    },
    playing,
    stop: () => {
      turns.stop();
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
      turns.stop();
      pads.stop();
      source = next;
      if (next) {
        engine.setRate(next.mix.sampleRate);
        buffers.prepare(next.mix);
        engine.fetch();
      }
    },
    setStems: (muted, solo) => {
      choice.set(muted, solo);
      take.chooseParts();
      loops.chooseParts();
    },
    playTake: (stretch = {}) =>
      start('take', (graph) => {
        if (source) take.play(graph, source, stretch, ended);
        else ended();
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
    releasePad,
    setPadSound: pads.setPadSound,
    setOnsets: pads.setOnsets,
    sounding: pads.sounding,

    setLoop: (next, awaited = false) => {
      const before = loop;
      loop = next;
      setMatched(next && matchLoudness(next.original.loudness, next.loudness));
      const graph = engine.graph();
      if (next && graph) {
        loops.prepare(next);
        if (next.mix !== before?.mix) exchange(graph, next);
      } else if (!next && !awaited) silence();
    },
    playLoop: ({ from = 0 } = {}) =>
      start('loop', (graph) => {
        if (loop) loops.play(graph, loop, { from });
        else ended();
      }),
    playSeam: () =>
      start('seam', (graph) => {
        if (loop) loops.playSeam(graph, loop);
        else ended();
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
        if (!source || !loop) return ended();
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
        played = lane;
        recording.begin(graph, ready ?? silentLoop(lane, rateOf(graph)), options);
      }),

    testLatency: () => start('latency test', (graph) => latency.begin(graph, ended)),
    tapLatency: (timeStamp) => {
      const graph = engine.graph();
      const measured = graph && latency.tap(engine.heardAt(graph, timeStamp));
      if (measured === null) return;
      change({ latency: measured });
      turns.clear();
    },
    latencyTest: latency.state,
  };
}
