import { describe, expect, it } from 'vitest';
import { renderDemo } from '../../demo/demo-take.ts';
import { makeRandom } from '../../shared/math/random.ts';
import type { Audio } from '../../shared/take/audio.ts';
import { makeTimeMap } from '../../shared/time/time-map.ts';
import { warp } from '../../shared/warp/warp.ts';
import { nullOf, storedApart } from '../bench/warp/nulls.ts';

const from = 20;
const seconds = 22;

/** A stretch of every part of the demo take, at a level that leaves no sample on the grid of its file. */
function parts(): Audio[] {
  return renderDemo().stems.map(({ audio }) => {
    const { sampleRate } = audio;
    const cut = (channel: Float32Array) =>
      channel.slice(from * sampleRate, (from + seconds) * sampleRate).map((x) => x * 0.917);
    return { sampleRate, channels: audio.channels.map(cut) };
  });
}

/** The parts added up in single precision, part after part, as many programs do. */
function addedInSingle(all: readonly Audio[]): Audio {
  const [{ sampleRate, channels }] = all;
  return {
    sampleRate,
    channels: channels.map((channel, c) =>
      channel.map((_, i) => all.reduce((sum, part) => Math.fround(sum + part.channels[c][i]), 0)),
    ),
  };
}

const random = makeRandom(5);
const anchors = [{ from: 0.8, to: 0.8 }];
for (let last = anchors[0]; last.from < seconds - 1.5; anchors.push(last)) {
  const gap = 0.6 + 0.5 * random();
  last = { from: last.from + gap, to: last.to + gap * (0.6 + random()) };
}
const map = makeTimeMap(anchors);
const length = Math.round(44100 * (anchors[anchors.length - 1].to + 0.5));

describe('a mix that was stored apart from its parts', () => {
  const all = parts();
  const together = warp(all, map, length);
  const sum = together[0].channels.map((channel, c) =>
    channel.map((_, i) => together.reduce((x, part) => x + part.channels[c][i], 0)),
  );

  it.each([
    ['added up in single precision', addedInSingle(all)],
    ['rounded apart from the same original', storedApart(all, 3)],
  ])('comes out as the sum of the warped parts: %s', (_, stored) => {
    const [mix] = warp([stored], map, length);
    expect(nullOf(mix.channels, sum)).toBeLessThan(-100);
  });
});
