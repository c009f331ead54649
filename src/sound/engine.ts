import { type Accessor, createSignal, onCleanup } from 'solid-js';
import type { Decibels, Hertz, Seconds } from '../../shared/math/units.ts';
import type { SoundState } from './sound.ts';

type Tone = typeof import('./tone.ts');

/** The running audio graph: one context at the take's own rate, and its way out. */
export interface Graph {
  readonly tone: Tone;
  readonly native: AudioContext;
  readonly context: InstanceType<Tone['Context']>;
  /** Everything sounds through here. */
  readonly out: InstanceType<Tone['Gain']>;
  readonly analysers: readonly AnalyserNode[];
}

/**
 * Brings sound to life and keeps it alive. A browser lets sound start only inside a gesture, may take it
 * away (a call, a headset) and gives it back only inside another, so `wake` belongs in every one.
 */
export interface Engine {
  readonly state: Accessor<SoundState>;
  /** The graph, when it is awake. */
  readonly graph: () => Graph | null;
  readonly wake: () => Promise<Graph | null>;
  /** Fetches and opens what sound is made with, so that the first one need not wait for it. */
  readonly fetch: () => void;
  /** The rate that the next context runs at; another rate ends the one there is. */
  readonly setRate: (rate: Hertz) => void;
  readonly setLevel: (level: Decibels) => void;
  /** Told when a graph is there, before anything sounds. */
  readonly onStart: (listener: (graph: Graph) => void) => void;
  /** Told before a graph ends: whoever holds nodes of it lets go of them. */
  readonly onEnd: (listener: () => void) => void;
  /** The context's time that comes out of the loudspeaker at a moment of `performance.now()`. */
  readonly heardAt: (graph: Graph, timeStamp: number) => Seconds;
  readonly readPeak: () => Decibels;
}

/** A context that does not run this long after it was asked to, in milliseconds, has nowhere to sound: no device is there, or none is free. */
const patience = 3000;
/** A clock that stood still for this long, in milliseconds, while it said it ran is dead. */
const dead = 1500;
const after = (milliseconds: number) => new Promise<void>((done) => setTimeout(done, milliseconds));
const gainOf = (level: Decibels) => 10 ** (level / 20);

/** Not every browser tells when it is idle. */
const idly = (run: () => void) => {
  if (typeof requestIdleCallback === 'function') requestIdleCallback(run, { timeout: 500 });
  else setTimeout(run, 50);
};

/** Tone says its name on the console when it is loaded, unless it is told not to. */
const silence = () => {
  (globalThis as { TONE_SILENCE_LOGGING?: boolean }).TONE_SILENCE_LOGGING = true;
};

export function createEngine(startLevel: Decibels): Engine {
  const [state, setState] = createSignal<SoundState>('asleep');
  const listeners: (() => void)[] = [];
  const starters: ((graph: Graph) => void)[] = [];
  let rate: Hertz | undefined;
  let level = startLevel;
  let native: AudioContext | null = null;
  let graph: Graph | null = null;
  let building: Promise<Graph | null> | null = null;
  let seen = { time: -1, at: 0 };
  /** Whether the context there is has ever run. */
  let ran = false;
  const block = new Float32Array(4096);

  const end = () => {
    if (graph) for (const listener of listeners) listener();
    graph?.context.dispose();
    const old = native;
    native = null;
    graph = null;
    building = null;
    seen = { time: -1, at: 0 };
    ran = false;
    if (old && old.state !== 'closed') void old.close().catch(() => {});
  };

  const watch = (context: AudioContext) => {
    if (context !== native) return;
    if (context.state === 'running') {
      ran = true;
      setState('running');
    } else if (context.state !== 'closed') setState(ran ? 'stopped by the system' : 'starting');
  };

  const build = async (context: AudioContext): Promise<Graph | null> => {
    silence();
    const tone = await import('./tone.ts');
    if (context !== native) return null;
    // clockSource: a worker clock would be a blob, which the page's policy forbids. lookAhead: pads sound at once.
    const own = new tone.Context({ context, clockSource: 'timeout', lookAhead: 0 });
    tone.setContext(own);
    const out = new tone.Gain({ context: own, gain: gainOf(level) });
    const splitter = context.createChannelSplitter(2);
    const analysers = [0, 1].map((channel) => {
      const analyser = context.createAnalyser();
      analyser.fftSize = block.length;
      splitter.connect(analyser, channel);
      return analyser;
    });
    tone.connect(out, context.destination);
    tone.connect(out, splitter);
    graph = { tone, native: context, context: own, out, analysers };
    // After Tone, which claims onstatechange for itself.
    context.addEventListener('statechange', () => watch(context));
    watch(context);
    for (const starter of starters) starter(graph);
    return graph;
  };

  /** A context that says it runs while its clock stands still does not come back (https://github.com/cwilso/metronome/issues/25). */
  const isDead = (context: AudioContext) => {
    const now = performance.now();
    const still = context.state === 'running' && context.currentTime === seen.time;
    const gone = context.state === 'closed' || (still && now - seen.at > dead);
    if (!still) seen = { time: context.currentTime, at: now };
    return gone;
  };

  const open = () =>
    new AudioContext({ latencyHint: 'interactive', ...(rate ? { sampleRate: rate } : {}) });

  const wake = async (): Promise<Graph | null> => {
    let mine: AudioContext | null = null;
    try {
      if (native && isDead(native)) end();
      if (!graph) setState('starting');
      native ??= open();
      const context = native;
      mine = context;
      // Called before anything is awaited: afterwards the gesture is over.
      const resumed = graph && context.state === 'running' ? null : context.resume();
      // Looked at below, once the graph is built: until then a refusal is nobody's.
      resumed?.catch(() => {});
      building ??= build(context);
      const ready = await building;
      if (resumed) await Promise.race([resumed, after(patience)]);
      watch(context);
      if (context !== native) return null;
      if (state() !== 'starting') return ready;
      setState('no way out');
      return null;
    } catch (error) {
      // Ended while it woke up, for a take at another rate: it is asked for again.
      if (mine && mine !== native) return null;
      // Said aloud for whoever looks into it; the page tells of the state.
      console.error(error);
      end();
      setState('failed');
      return null;
    }
  };

  let ended = false;
  onCleanup(() => {
    ended = true;
    end();
  });
  return {
    state,
    graph: () => (graph?.native.state === 'running' ? graph : null),
    wake,
    fetch: () => {
      silence();
      // Where it fails now it is asked for again at the first sound.
      void import('./tone.ts').catch(() => {});
      // A context takes a browser a fifth of a second to open. Once the page has been touched it may be there
      // beforehand, silent; before that it would be refused. By itself, when nothing waits to be drawn.
      idly(() => {
        if (native || ended || !navigator.userActivation?.hasBeenActive) return;
        try {
          native = open();
          void native.suspend().catch(() => {});
        } catch {
          native = null;
        }
      });
    },
    setRate: (next) => {
      if (next === rate) return;
      rate = next;
      if (native && native.sampleRate !== next) {
        end();
        setState('asleep');
      }
    },
    setLevel: (next) => {
      level = next;
      graph?.out.gain.rampTo(gainOf(next), 0.02);
    },
    onStart: (listener) => void starters.push(listener),
    onEnd: (listener) => void listeners.push(listener),
    heardAt: ({ native: context }, timeStamp) => {
      const now = context.currentTime;
      const stamp = context.getOutputTimestamp?.();
      const latency = context.outputLatency || context.baseLatency || 0;
      const plain = now - latency + (timeStamp - performance.now()) / 1000;
      if (!stamp?.performanceTime || stamp.contextTime === undefined) return plain;
      const heard = stamp.contextTime + (timeStamp - stamp.performanceTime) / 1000;
      // Some systems report a stamp that has nothing to do with the clock.
      return Math.abs(heard - plain) < 0.5 ? heard : plain;
    },
    readPeak: () => {
      let peak = 0;
      for (const analyser of graph?.analysers ?? []) {
        analyser.getFloatTimeDomainData(block);
        for (const sample of block) peak = Math.max(peak, Math.abs(sample));
      }
      return 20 * Math.log10(peak);
    },
  };
}
