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
  /** A stretch of a recording with its fades, so that they stand where its samples do, whenever it begins. */
  readonly cut: (audio: Audio, how: Cut) => AudioBuffer;
}

/** All in frames; the fades run along straight lines, within the stretch. */
export interface Cut {
  readonly from: Samples;
  readonly until: Samples;
  readonly fadeIn: Samples;
  readonly fadeOut: Samples;
  /** Turned round; the fades are those of what is heard. */
  readonly backwards: boolean;
  /** Silence after it. */
  readonly rest: Samples;
}

/** Cuts kept for each recording. */
const most = 64;
/** Frames copied at a time: well under a millisecond of work. */
const piece: Samples = 1 << 17;

interface Copy {
  readonly buffer: AudioBuffer;
  done: Samples;
}

function emptyBuffer({ channels, sampleRate }: Audio, length: Samples): AudioBuffer {
  return new AudioBuffer({
    numberOfChannels: channels.length || 1,
    length: Math.max(length, 1),
    sampleRate,
  });
}

function begin(audio: Audio): Copy {
  return { buffer: emptyBuffer(audio, lengthOf(audio)), done: 0 };
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
  const cuts = new WeakMap<Audio, Map<string, AudioBuffer>>();
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
    cut: (audio, how) => {
      const pieces = cuts.get(audio) ?? new Map<string, AudioBuffer>();
      cuts.set(audio, pieces);
      const key = `${how.from} ${how.until} ${how.fadeIn} ${how.fadeOut} ${how.backwards} ${how.rest}`;
      const made = pieces.get(key) ?? cutOut(audio, how);
      // The newest last: the first ones go.
      pieces.delete(key);
      if (pieces.size >= most) pieces.delete(pieces.keys().next().value ?? '');
      pieces.set(key, made);
      return made;
    },
  };
}

function cutOut(audio: Audio, how: Cut): AudioBuffer {
  const first = Math.max(0, how.from);
  const last = Math.max(first, Math.min(lengthOf(audio), how.until));
  const buffer = emptyBuffer(audio, last - first + how.rest);
  audio.channels.forEach((channel, c) => {
    const sounding = buffer.getChannelData(c).subarray(0, last - first);
    sounding.set(channel.subarray(first, last));
    if (how.backwards) sounding.reverse();
    fade(sounding, how.fadeIn);
    fade(sounding.reverse(), Math.min(how.fadeOut, sounding.length - how.fadeIn));
    sounding.reverse();
  });
  return buffer;
}

/** The first sample becomes 0, the one after the fade is as it was. */
function fade(samples: Float32Array, length: Samples): void {
  for (let i = 0; i < Math.min(length, samples.length); i++)
    samples[i] = ((samples[i] ?? 0) * i) / length;
}
