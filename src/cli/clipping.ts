import { type Audio, lengthOf } from '../../shared/take/audio.ts';
import type { WavBits } from '../../shared/take/wav-write.ts';

/** Sound on its way to a file, and how the file stores it. */
export interface Stored {
  readonly path: string;
  readonly audio: Audio;
  readonly bits: WavBits;
}

/**
 * Says, on a terminal only, as progress does, which files cut their sound off at full scale. A script that must not
 * clip stores floats.
 */
export function noteClipping(
  files: readonly Stored[],
  terminal: Pick<NodeJS.WriteStream, 'isTTY' | 'write'> = process.stderr,
): void {
  if (!terminal.isTTY) return;
  for (const file of files) {
    const sentence = clippingOf(file);
    if (sentence) terminal.write(`${sentence}\n`);
  }
}

/** One sentence where integers can't hold the sound; null where nothing is lost. */
function clippingOf({ path, audio, bits }: Stored): string | null {
  if (bits === '32f' || lengthOf(audio) === 0) return null;
  let peak = 1;
  let first = lengthOf(audio);
  for (const channel of audio.channels)
    channel.forEach((sample, i) => {
      if (Math.abs(sample) <= 1) return;
      peak = Math.max(peak, Math.abs(sample));
      first = Math.min(first, i);
    });
  if (peak === 1) return null;
  const over = (20 * Math.log10(peak)).toFixed(1);
  const at = (first / audio.sampleRate).toFixed(2);
  return `${path} is clipped, first at ${at} s, by ${over} dB at most; add --bits 32f to keep it whole.`;
}
