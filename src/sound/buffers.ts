import type { Samples } from '../../shared/math/units.ts';
import { type Audio, lengthOf } from '../../shared/take/audio.ts';

/**
 * Recordings as the audio graph wants them. Each is copied once, and belongs to no context: the next one
 * plays it too. A whole take is much to copy (200 MB for ten minutes in stereo), so that is begun as soon
 * as the take is there, a little at a time, and what is missing follows at the first sound.
 */
export interface Buffers {
  /** Begins to copy a recording while nothing else is to be done. */
  readonly prepare: (audio: Audio) => void;
  readonly of: (audio: Audio) => AudioBuffer;
  /** A stretch of a recording, back to front; `from` and `until` in frames. */
  readonly backwards: (audio: Audio, from: Samples, until: Samples) => AudioBuffer;
}

/** Reversed stretches kept for each recording. */
const most = 64;
/** Frames copied at a time: well under a millisecond of work. */
const piece: Samples = 1 << 17;

interface Copy {
  readonly buffer: AudioBuffer;
  done: Samples;
}

function begin(audio: Audio): Copy {
  const buffer = new AudioBuffer({
    numberOfChannels: audio.channels.length || 1,
    length: Math.max(lengthOf(audio), 1),
    sampleRate: audio.sampleRate,
  });
  return { buffer, done: 0 };
}

function goOn(copy: Copy, audio: Audio, until: Samples): void {
  const from = copy.done;
  copy.done = Math.min(until, lengthOf(audio));
  // Not copyToChannel: it refuses memory that is shared with the workers.
  audio.channels.forEach((channel, c) => {
    copy.buffer.getChannelData(c).set(channel.subarray(from, copy.done), from);
  });
}

export function makeBuffers(): Buffers {
  const whole = new WeakMap<Audio, Copy>();
  const reversed = new WeakMap<Audio, Map<string, AudioBuffer>>();
  const copyOf = (audio: Audio): Copy => {
    const known = whole.get(audio);
    if (known) return known;
    const fresh = begin(audio);
    whole.set(audio, fresh);
    return fresh;
  };
  let newest: Audio | null = null;

  return {
    prepare: (audio) => {
      newest = audio;
      const step = () => {
        // A take that was taken away meanwhile needs no copy.
        if (newest !== audio) return;
        const copy = copyOf(audio);
        goOn(copy, audio, copy.done + piece);
        if (copy.done < lengthOf(audio)) setTimeout(step, 0);
      };
      setTimeout(step, 0);
    },
    of: (audio) => {
      const copy = copyOf(audio);
      if (copy.done < lengthOf(audio)) goOn(copy, audio, lengthOf(audio));
      return copy.buffer;
    },
    backwards: (audio, from, until) => {
      const pieces = reversed.get(audio) ?? new Map<string, AudioBuffer>();
      reversed.set(audio, pieces);
      const key = `${from} ${until}`;
      const known = pieces.get(key);
      if (known) return known;
      const first = Math.max(0, from);
      const last = Math.min(lengthOf(audio), until);
      const turned = {
        sampleRate: audio.sampleRate,
        channels: audio.channels.map((channel) => channel.slice(first, last).reverse()),
      };
      const copy = begin(turned);
      goOn(copy, turned, lengthOf(turned));
      const made = copy.buffer;
      if (pieces.size >= most) pieces.delete(pieces.keys().next().value ?? '');
      pieces.set(key, made);
      return made;
    },
  };
}
