import { writeWav } from '../../shared/take/wav-write.ts';
import { freeTimes, plucks } from '../engine/plucks.ts';

/** A short take with two stems as files to be chosen: quicker to hear than the demo. `cents` is how sharp it is played. */
export function shortTake(cents = 0): { name: string; mimeType: string; buffer: Buffer }[] {
  const times = freeTimes(16);
  const low = plucks(
    times.filter((_, i) => i % 2 === 0),
    9.5,
    0.2,
    -12,
  );
  const high = plucks(times, 9.5, 0.25, cents / 100);
  const mix = {
    sampleRate: low.sampleRate,
    channels: low.channels.map((channel, c) => channel.map((v, i) => v + high.channels[c][i])),
  };
  return [
    { name: 'Ebb mix.wav', audio: mix },
    { name: 'Ebb - Harp.wav', audio: high },
    { name: 'Ebb - Low.wav', audio: low },
  ].map(({ name, audio }) => ({
    name,
    mimeType: 'audio/wav',
    buffer: Buffer.from(writeWav(audio, { bits: '16' })),
  }));
}
