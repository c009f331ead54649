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
  fadePart(piece, 0, lengthOf(piece), inSamples, outSamples);
}

/** As `fade`, of a part alone that begins at `at` of a piece of `length` samples. */
export function fadePart(
  part: Audio,
  at: Samples,
  length: Samples,
  inSamples: Samples,
  outSamples: Samples,
): void {
  const rise = Math.min(inSamples, length);
  const fall = Math.min(outSamples, length);
  const end = at + lengthOf(part);
  for (const channel of part.channels) {
    for (let i = at; i < Math.min(rise, end); i++)
      channel[i - at] *= Math.sin(((i + 0.5) / rise) * (Math.PI / 2));
    for (let i = length - Math.max(at, length - fall) - 1; i >= length - end; i--)
      channel[length - 1 - i - at] *= Math.sin(((i + 0.5) / fall) * (Math.PI / 2));
  }
}

/** Empty loops of one length, shaped like the sources. */
export function emptyLoops(sources: readonly Audio[], length: Samples): Audio[] {
  return sources.map((source) => silence(source.channels.length, length, source.sampleRate));
}
