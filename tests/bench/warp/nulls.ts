import { makeRandom } from '../../../shared/math/random.ts';
import type { Audio } from '../../../shared/take/audio.ts';
import { rate } from './probes.ts';

/** Power of the difference over power, in dB; minus infinity where the two are the same. */
export function nullOf(a: readonly Float32Array[], b: readonly Float32Array[]): number {
  let difference = 0;
  let power = 0;
  a.forEach((channel, c) => {
    for (let i = 0; i < channel.length; i++) {
      difference += (channel[i] - (b[c][i] ?? 0)) ** 2;
      power += (b[c][i] ?? 0) ** 2;
    }
  });
  return 10 * Math.log10(difference / power);
}

/**
 * Parts added up, as a mix is that was stored by itself: parts and mix were rounded apart from one finer original, so
 * that it differs from their sum by what each part lost (of 24 bits of mantissa, half a step at most).
 */
export function storedApart(parts: readonly Audio[], seed: number): Audio {
  const random = makeRandom(seed);
  const [{ sampleRate, channels }] = parts;
  const lost = (x: number) => (2 * random() - 1) * Math.abs(x) * 2 ** -25;
  return {
    sampleRate,
    channels: channels.map((channel, c) =>
      channel.map((_, i) =>
        parts.reduce((sum, part) => sum + part.channels[c][i] + lost(part.channels[c][i]), 0),
      ),
    ),
  };
}

/** How far (degrees, worst of 100 ms stretches) a 500 Hz tone leaves the 60 degrees between its channels. */
export async function phaseKept(run: (source: Audio) => Promise<Audio>): Promise<number> {
  const tone = (angle: number): Float32Array =>
    Float32Array.from(
      { length: 10 * rate },
      (_, i) => 0.3 * Math.sin((2 * Math.PI * 500 * i) / rate + angle),
    );
  const { channels } = await run({ sampleRate: rate, channels: [tone(0), tone(Math.PI / 3)] });
  let worst = 0;
  const span = rate / 10;
  for (let first = span; first + 4 * span < channels[0].length; first += span) {
    const phase = channels.map((channel) => {
      let re = 0;
      let im = 0;
      for (let i = 0; i < span; i++) {
        const w = 0.5 - 0.5 * Math.cos((2 * Math.PI * i) / span);
        re += w * channel[first + i] * Math.cos((2 * Math.PI * 500 * i) / rate);
        im -= w * channel[first + i] * Math.sin((2 * Math.PI * 500 * i) / rate);
      }
      return Math.atan2(im, re);
    });
    const turn = phase[1] - phase[0] - Math.PI / 3;
    const off = Math.abs(turn - 2 * Math.PI * Math.round(turn / (2 * Math.PI)));
    worst = Math.max(worst, (off * 180) / Math.PI);
  }
  return worst;
}
