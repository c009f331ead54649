import type { Samples } from '../math/units.ts';
import { type Audio, lengthOf, silence } from '../take/audio.ts';

/** A loop that closes on itself: what is written past its end sounds at its start, and the other way round. */
export function addRound(loop: Audio, piece: Audio, at: Samples): void {
  const length = lengthOf(loop);
  if (length === 0) return;
  piece.channels.forEach((channel, c) => {
    const target = loop.channels[c];
    let i = ((at % length) + length) % length;
    for (let k = 0; k < channel.length; k++) {
      target[i] += channel[k];
      if (++i === length) i = 0;
    }
  });
}

/** Fades a piece in over its first and out over its last samples (quarter sine: equal power where two cross). */
export function fade(piece: Audio, inSamples: Samples, outSamples: Samples): void {
  const length = lengthOf(piece);
  const rise = Math.min(inSamples, length);
  const fall = Math.min(outSamples, length);
  for (const channel of piece.channels) {
    for (let i = 0; i < rise; i++) channel[i] *= Math.sin(((i + 0.5) / rise) * (Math.PI / 2));
    for (let i = 0; i < fall; i++)
      channel[length - 1 - i] *= Math.sin(((i + 0.5) / fall) * (Math.PI / 2));
  }
}

/** Empty loops of one length, shaped like the sources. */
export function emptyLoops(sources: readonly Audio[], length: Samples): Audio[] {
  return sources.map((source) => silence(source.channels.length, length, source.sampleRate));
}
