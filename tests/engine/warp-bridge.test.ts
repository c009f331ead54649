import { describe, expect, it } from 'vitest';
import { makeRandom } from '../../shared/math/random.ts';
import type { Audio } from '../../shared/take/audio.ts';
import { makeTimeMap } from '../../shared/time/time-map.ts';
import { warp } from '../../shared/warp/warp.ts';
import { nullOf } from '../bench/warp/nulls.ts';
import { rate, trackTone } from '../bench/warp/probes.ts';

const seconds = 4;
const mono = (samples: Float32Array): Audio => ({ sampleRate: rate, channels: [samples] });

/** A tone that dies away slowly. */
const toneOf = (hertz: number): Float32Array =>
  Float32Array.from(
    { length: seconds * rate },
    (_, i) => 0.3 * Math.exp(-i / rate / 4) * Math.sin((2 * Math.PI * hertz * i) / rate),
  );
/** Strokes of noise every 0.35 s, which cut the warp into pieces. */
const random = makeRandom(4);
const strokes = new Float32Array(seconds * rate);
for (let at = 0.4; at < seconds - 0.3; at += 0.35)
  for (let i = 0; i < 0.05 * rate; i++)
    strokes[Math.round(at * rate) + i] = 0.5 * Math.exp(-i / 200) * (2 * random() - 1);

describe('bridges over attacks', () => {
  it.each([
    [1800, 0.8],
    [1800, 1.3],
    [440, 0.8],
    [440, 1.3],
  ])('let a tone of %i Hz under strokes go on without a bend, at %d', (hertz, ratio) => {
    const tone = toneOf(hertz);
    const map = makeTimeMap([
      { from: 0, to: 0 },
      { from: seconds, to: seconds * ratio },
    ]);
    const length = Math.round(seconds * ratio * rate);
    const [held, struck] = warp([mono(tone), mono(strokes)], map, length);
    const off = trackTone(held.channels[0], hertz / 1.2, hertz * 1.2)
      .frequency.filter(({ time }) => time > 0.3 && time < (seconds - 0.3) * ratio)
      .map((found) => Math.abs(1200 * Math.log2(found.hertz / hertz)));
    // Started anew at every stroke: 43 and 35 cents at 1800 Hz.
    expect(Math.max(...off)).toBeLessThan(2);
    const [both] = warp([mono(tone.map((v, i) => v + strokes[i]))], map, length);
    const sum = held.channels[0].map((v, i) => v + struck.channels[0][i]);
    expect(nullOf([sum], both.channels)).toBeLessThan(-120);
  });
});
