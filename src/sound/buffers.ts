import type { Samples } from '../../shared/math/units.ts';
import { type Audio, lengthOf } from '../../shared/take/audio.ts';
import type { Graph } from './engine.ts';

/** Recordings as the audio graph wants them; each is made once for a context, and again for the next one. */
export interface Buffers {
  readonly of: (graph: Graph, audio: Audio) => AudioBuffer;
  /** A stretch of a recording, back to front; `from` and `until` in frames. */
  readonly backwards: (graph: Graph, audio: Audio, from: Samples, until: Samples) => AudioBuffer;
}

/** Reversed stretches kept for each recording. */
const most = 64;

export function makeBuffers(): Buffers {
  let context: AudioContext | null = null;
  let whole = new WeakMap<Audio, AudioBuffer>();
  let reversed = new WeakMap<Audio, Map<string, AudioBuffer>>();

  const settle = (graph: Graph) => {
    if (graph.native === context) return;
    context = graph.native;
    whole = new WeakMap();
    reversed = new WeakMap();
  };
  const fill = (graph: Graph, audio: Audio, channels: readonly Float32Array[]): AudioBuffer => {
    const buffer = graph.native.createBuffer(
      channels.length || 1,
      Math.max(channels[0]?.length ?? 0, 1),
      audio.sampleRate,
    );
    // Not copyToChannel: it refuses memory that is shared with the workers.
    channels.forEach((channel, c) => {
      buffer.getChannelData(c).set(channel);
    });
    return buffer;
  };

  return {
    of: (graph, audio) => {
      settle(graph);
      const known = whole.get(audio);
      if (known) return known;
      const made = fill(graph, audio, audio.channels);
      whole.set(audio, made);
      return made;
    },
    backwards: (graph, audio, from, until) => {
      settle(graph);
      const pieces = reversed.get(audio) ?? new Map<string, AudioBuffer>();
      reversed.set(audio, pieces);
      const key = `${from} ${until}`;
      const known = pieces.get(key);
      if (known) return known;
      const first = Math.max(0, from);
      const last = Math.min(lengthOf(audio), until);
      const made = fill(
        graph,
        audio,
        audio.channels.map((channel) => channel.slice(first, last).reverse()),
      );
      if (pieces.size >= most) pieces.delete(pieces.keys().next().value ?? '');
      pieces.set(key, made);
      return made;
    },
  };
}
