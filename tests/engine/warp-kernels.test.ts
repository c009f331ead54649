import { createHash } from 'node:crypto';
import { afterAll, describe, expect, it, vi } from 'vitest';
import { makeRandom } from '../../shared/math/random.ts';
import type { Audio } from '../../shared/take/audio.ts';
import type { TimeMap } from '../../shared/time/time-map.ts';
import { warp } from '../../shared/warp/warp.ts';

/** Notes that die away and such as are held with vibrato, strokes, and soft noise that never stops. */
function playing(sampleRate: number, seconds: number, channels: number, seed: number): Audio {
  const random = makeRandom(seed);
  const sound = Array.from({ length: channels }, () =>
    Float32Array.from({ length: sampleRate * seconds }, () => 0.01 * (random() - 0.5)),
  );
  for (let start = 0.05; start < seconds - 0.1; start += 0.1 + 0.25 * random()) {
    const hertz = 80 * 2 ** (4 * random());
    const kind = random();
    for (const channel of sound) {
      const gain = 0.3 * random();
      for (let i = Math.round(start * sampleRate), n = 0; i < channel.length; i++, n++) {
        const t = n / sampleRate;
        if (t > 0.8) break;
        const angle = 2 * Math.PI * hertz * t + 0.8 * Math.sin(35 * t);
        const wave =
          kind < 0.2
            ? Math.exp(-30 * t) * (random() - 0.5)
            : kind < 0.6
              ? Math.exp(-3 * t) * (Math.sin(2 * Math.PI * hertz * t) + Math.sin(9 * hertz * t))
              : Math.sin(angle) + 0.4 * Math.sin(3 * angle);
        channel[i] += gain * Math.min(1, 500 * t) * wave;
      }
    }
  }
  return { sampleRate, channels: sound };
}

const mapOf = (seconds: number, ratios: readonly number[]): TimeMap => {
  const step = seconds / ratios.length;
  const to = [0];
  for (const ratio of ratios) to.push(to[to.length - 1] + step * ratio);
  return { anchors: to.map((at, i) => ({ from: i * step, to: at })) };
};

const sha256 = (bytes: Uint8Array): string => createHash('sha256').update(bytes).digest('hex');

/** The warp as it is where the machine has no WebAssembly SIMD. */
async function plainWarp(): Promise<typeof warp> {
  vi.resetModules();
  vi.doMock('../../shared/math/kernel.ts', async (original) => ({
    ...(await original<typeof import('../../shared/math/kernel.ts')>()),
    kernels: () => null,
    ownKernels: () => null,
  }));
  return (await import('../../shared/warp/warp.ts')).warp;
}

afterAll(() => {
  vi.doUnmock('../../shared/math/kernel.ts');
  vi.resetModules();
});

describe('warp by kernels', () => {
  it.each([
    ['mono at 8 kHz', [playing(8000, 3, 1, 1)], [0.5, 1.4, 0.9, 1.7]],
    ['stereo', [playing(44100, 3, 2, 2)], [0.7, 1.3, 1, 1.8, 0.25, 4]],
    ['five channels at 48 kHz', [playing(48000, 2, 5, 3)], [1.3, 0.8]],
    ['parts of several widths', [1, 2, 3].map((n) => playing(22050, 3, n, n)), [1.5, 0.6, 1.1]],
    ['high rate', [playing(192000, 1, 2, 4)], [1.2, 0.8]],
  ] as const)('gives the same bits as without: %s', async (_, parts, ratios) => {
    const { sampleRate, channels } = parts[0];
    const seconds = channels[0].length / sampleRate;
    const map = mapOf(seconds, ratios);
    const length = Math.round(0.95 * seconds * sampleRate);
    const fast = warp(parts, map, length);
    const plain = (await plainWarp())(parts, map, length);
    const bits = (outs: readonly Audio[]) =>
      outs.map(({ channels }) => channels.map((c) => sha256(new Uint8Array(c.buffer))));
    expect(bits(fast)).toEqual(bits(plain));
    expect(fast[0].channels[0].some((v) => v !== 0)).toBe(true);
  });
});
