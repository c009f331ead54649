import { describe, expect, it } from 'vitest';
import type { Audio } from '../../shared/take/audio.ts';
import { makeTimeMap } from '../../shared/time/time-map.ts';
import { bandsFor } from '../../shared/warp/bands/bands.ts';
import { readerOf } from '../../shared/warp/bands/reader.ts';
import { shortFrames } from '../../shared/warp/plan/attacks.ts';
import { completeRelease, releaseBefore } from '../../shared/warp/plan/release.ts';
import { warp } from '../../shared/warp/warp.ts';

const rate = 44100;
/** Chords begin every second from half a second on; each is let go `early` before the next one. */
const begins = [0.5, 1.5, 2.5, 3.5];

/** Struck chords that die away by 8 dB a second and are let go with 25 ms to a tenth of e. */
function chords(early: number): Audio {
  const samples = new Float32Array(5 * rate);
  for (const at of begins)
    for (let i = Math.round(at * rate); i < samples.length; i++) {
      const t = i / rate - at;
      const held = Math.exp(-Math.max(0, t - (1 - early)) / 0.011);
      const gain = 0.1 * 10 ** ((-8 * t) / 20) * Math.min(1, t * 500) * held;
      if (held < 1e-6) break;
      for (const hertz of [196, 247, 294, 588, 1470])
        samples[i] += gain * Math.sin(2 * Math.PI * hertz * t);
    }
  return { sampleRate: rate, channels: [samples] };
}

const level = (samples: Float32Array, from: number, to: number): number => {
  let sum = 0;
  for (let i = Math.round(from * rate); i < Math.round(to * rate); i++) sum += samples[i] ** 2;
  return 10 * Math.log10(sum / ((to - from) * rate));
};

const ringing = (audio: Audio) => ({
  frames: shortFrames(readerOf(audio), bandsFor(rate)),
  band: 0,
  from: 1.5 * rate,
  to: 2.5 * rate,
  usual: 8,
  sampleRate: rate,
});

describe('releaseBefore', () => {
  it('finds where sound is let go, to 15 ms', () => {
    const at = releaseBefore(ringing(chords(0.1))) ?? 0;
    expect(Math.abs(at / rate - 2.4)).toBeLessThan(0.015);
  });

  it('finds none where sound only dies away', () => {
    expect(releaseBefore(ringing(chords(0)))).toBeUndefined();
  });
});

/** A chord that fades into silence, as its parts of so many shares add up when each is stored in 24 bits. */
function fading(shares: readonly number[]): Audio {
  const stored = (x: number) => Math.round(x * 2 ** 23) / 2 ** 23;
  const samples = Float32Array.from({ length: 3 * rate }, (_, i) => {
    const t = i / rate - 1.5;
    const gain = t < 0 ? 0 : 0.3 * 10 ** ((-160 * t) / 20) * Math.min(1, t * 500);
    let sum = 0;
    for (const hertz of [196, 247, 294, 588, 1470]) sum += Math.sin(2 * Math.PI * hertz * t);
    return shares.reduce((all, share) => all + stored(share * gain * sum), 0);
  });
  return { sampleRate: rate, channels: [samples] };
}

describe('completeRelease', () => {
  it.each([0.1, 0.4, 0.8])('finds where all is let go %s s before the next attack', (early) => {
    const at = completeRelease(ringing(chords(early))) ?? 0;
    expect(Math.abs(at / rate - (2.5 - early))).toBeLessThan(0.015);
  });

  it('finds none where sound only dies away, or some of it goes on', () => {
    expect(completeRelease(ringing(chords(0)))).toBeUndefined();
    const [samples] = chords(0.4).channels;
    const on = samples.map((x, i) => x + 0.05 * Math.sin((2 * Math.PI * 220 * i) / rate));
    expect(completeRelease(ringing({ sampleRate: rate, channels: [on] }))).toBeUndefined();
  });

  it('hears no end of a fade where only rounding is left', () => {
    const found = [[1], [0.7, 0.3], [0.4, 0.35, 0.25]].map((shares) =>
      completeRelease({ ...ringing(fading(shares)), usual: 160 }),
    );
    expect(found).toEqual([undefined, undefined, undefined]);
  });
});

describe('a release before an attack', () => {
  const audio = chords(0.1);

  it('comes where the map says in pieces that are shortened', () => {
    const ratio = 0.7;
    const map = makeTimeMap([...begins, 4.5].map((from) => ({ from, to: from * ratio })));
    const [{ channels }] = warp([audio], map, Math.round(5 * ratio * rate));
    for (const next of [1.5, 2.5, 3.5]) {
      const at = next * ratio;
      const held = level(channels[0], at - 0.15, at - 0.11);
      // Let go 70 ms before, it is gone in the last ones.
      expect(level(channels[0], at - 0.02, at - 0.004)).toBeLessThan(held - 20);
      expect(level(channels[0], at - 0.1, at - 0.08)).toBeGreaterThan(held - 3);
    }
  });
});

describe('a complete release', () => {
  it.each([0.7, 1.6])('comes where the map says, drawn out or shortened to %s', (ratio) => {
    const early = 0.4;
    const map = makeTimeMap([...begins, 4.5].map((from) => ({ from, to: from * ratio })));
    const [{ channels }] = warp([chords(early)], map, Math.round(5 * ratio * rate));
    for (const next of [1.5, 2.5, 3.5]) {
      const at = (next - early) * ratio;
      const held = level(channels[0], at - 0.15, at - 0.1);
      expect(level(channels[0], at - 0.06, at - 0.02)).toBeGreaterThan(held - 3);
      expect(level(channels[0], at + 0.06, at + 0.1)).toBeLessThan(held - 20);
    }
  });
});
