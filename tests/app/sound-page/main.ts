import { createRoot } from 'solid-js';
import { createSound } from '../../../src/sound/create-sound.ts';
import { makePadKeys } from '../../../src/sound/pad-keys.ts';
import { createSettings } from '../../../src/store/settings.ts';
import recorderUrl from './recorder.worklet.js?url&no-inline';

/**
 * The sound of the page by itself, with everything that it puts out taken down by a worklet, sample by
 * sample, against the context's own count of frames.
 */
let context: AudioContext | undefined;
let last: AudioNode | undefined;
const Native = window.AudioContext;
window.AudioContext = class extends Native {
  constructor(options?: AudioContextOptions) {
    super(options);
    context = this;
  }
};
const connect = AudioNode.prototype.connect as (this: AudioNode, ...args: unknown[]) => AudioNode;
AudioNode.prototype.connect = function (this: AudioNode, ...args: unknown[]) {
  if (args[0] instanceof AudioDestinationNode) last = this;
  return connect.apply(this, args);
} as typeof AudioNode.prototype.connect;

const blocks = new Map<number, Float32Array[]>();
let newest = 0;

async function record(): Promise<void> {
  if (!context || !last) throw new Error('No sound was woken yet.');
  // Another context counts its frames from nought.
  blocks.clear();
  newest = 0;
  await context.audioWorklet.addModule(recorderUrl);
  const recorder = new AudioWorkletNode(context, 'recorder', { numberOfOutputs: 0 });
  recorder.port.onmessage = ({ data }) => {
    blocks.set(data.frame, data.channels);
    newest = Math.max(newest, data.frame);
  };
  connect.call(last, recorder);
}

/** One channel of what was put out, silence where nothing was connected. */
function heard(from: number, until: number, channel = 0): number[] {
  return Array.from({ length: until - from }, (_, i) => {
    const frame = from + i;
    return blocks.get(frame - (frame % 128))?.[channel]?.[frame % 128] ?? 0;
  });
}

/** Holds the page up, in milliseconds, right before the next source is started: the worst place to be busy at. */
function holdUp(long: number): void {
  const { start } = AudioBufferSourceNode.prototype;
  AudioBufferSourceNode.prototype.start = function (...how) {
    AudioBufferSourceNode.prototype.start = start;
    const until = performance.now() + long;
    while (performance.now() < until);
    start.apply(this, how);
  };
}

/** What the letter keys did, in order. */
const keys: string[] = [];
makePadKeys({
  placeOf: (code) =>
    code === 'KeyQ' ? { row: 1, key: 0 } : code === 'KeyA' ? { row: 2, key: 0 } : undefined,
  press: ({ row }) => keys.push(`press ${row}`),
  release: ({ row }) => keys.push(`release ${row}`),
});

const page = {
  keys,
  sound: createRoot(() => createSound(createSettings())),
  record,
  holdUp,
  heard,
  frame: () => Math.round((context?.currentTime ?? 0) * (context?.sampleRate ?? 0)),
  newest: () => newest,
  context: () => context,
};
export type SoundPage = typeof page;

declare global {
  interface Window {
    bench: SoundPage;
  }
}
window.bench = page;
