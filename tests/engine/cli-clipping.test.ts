import { describe, expect, it } from 'vitest';
import type { WavBits } from '../../shared/take/wav-write.ts';
import { noteClipping } from '../../src/cli/clipping.ts';

/** A silent second with `peak` in its second channel, a quarter of a second in. */
function told(peak: number, bits: WavBits, isTTY = true): string {
  const channels = [new Float32Array(8000), new Float32Array(8000)];
  channels[1][2000] = peak;
  let text = '';
  const write = (piece: string | Uint8Array) => {
    text += piece;
    return true;
  };
  noteClipping([{ path: 'out.wav', audio: { sampleRate: 8000, channels }, bits }], {
    isTTY,
    write,
  } as NodeJS.WriteStream);
  return text;
}

describe('what a file clips', () => {
  it('is said on a terminal: which file, where first, by how much, what to do', () => {
    expect(told(-2, '24')).toBe(
      'out.wav is clipped, first at 0.25 s, by 6.0 dB at most; add --bits 32f to keep it whole.\n',
    );
  });

  it('is nothing at full scale, and nothing in floats', () => {
    expect(told(1, '16')).toBe('');
    expect(told(-1, '24')).toBe('');
    expect(told(2, '32f')).toBe('');
  });

  it('is not said to scripts, whose stderr holds errors alone', () => {
    expect(told(2, '16', false)).toBe('');
  });
});
