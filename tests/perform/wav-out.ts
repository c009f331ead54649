import { type Audio, lengthOf } from '../../shared/take/audio.ts';

/**
 * A plain 16-bit WAV: written here and not by the engine, so that the recordings depend on nothing
 * that is tested with them.
 */
export function wav16(audio: Audio): Uint8Array {
  const channels = audio.channels.length;
  const frames = lengthOf(audio);
  const bytes = new Uint8Array(44 + frames * channels * 2);
  const view = new DataView(bytes.buffer);
  const tag = (at: number, text: string): void => {
    for (let i = 0; i < 4; i++) bytes[at + i] = text.charCodeAt(i);
  };
  tag(0, 'RIFF');
  view.setUint32(4, bytes.length - 8, true);
  tag(8, 'WAVE');
  tag(12, 'fmt ');
  view.setUint32(16, 16, true);
  view.setUint16(20, 1, true);
  view.setUint16(22, channels, true);
  view.setUint32(24, audio.sampleRate, true);
  view.setUint32(28, audio.sampleRate * channels * 2, true);
  view.setUint16(32, channels * 2, true);
  view.setUint16(34, 16, true);
  tag(36, 'data');
  view.setUint32(40, frames * channels * 2, true);
  audio.channels.forEach((channel, c) => {
    for (let i = 0; i < frames; i++) {
      const x = Math.max(-32768, Math.min(32767, Math.round((channel[i] ?? 0) * 32768)));
      view.setInt16(44 + 2 * (i * channels + c), x, true);
    }
  });
  return bytes;
}
