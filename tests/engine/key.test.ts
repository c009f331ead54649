import { describe, expect, test } from 'vitest';
import { hearKey, tonics } from '../../shared/hear/pitch/key.ts';
import type { Partials } from '../../shared/hear/pitch/partials.ts';
import type { Audio } from '../../shared/take/audio.ts';
import { Chance } from '../perform/chance.ts';

const silence = { sampleRate: 44100, channels: [new Float32Array(0)] };
const tuning = { a4: 440, cents: 0, confidence: 1 };

/** Triads of i iv V i and I IV V I, a bar of two seconds each (common practice, no source). */
const cadences = {
  major: [
    [48, 60, 64, 67],
    [41, 60, 65, 69],
    [43, 59, 62, 67],
    [48, 60, 64, 67],
  ],
  minor: [
    [48, 60, 63, 67],
    [41, 60, 65, 68],
    [43, 59, 62, 67],
    [48, 60, 63, 67],
  ],
};

/** Moments in which each note sounds with four partials that fall off by 1/n. */
function sounding(bars: readonly (readonly number[])[], gain = 1): Partials[] {
  return bars.flatMap((notes, bar) =>
    Array.from({ length: 20 }, (_, k) => {
      const partials = notes
        .flatMap((note) => [1, 2, 3, 4].map((n) => ({ note, n })))
        .map(({ note, n }) => ({ hertz: 440 * 2 ** ((note - 69) / 12) * n, size: gain / n }))
        .sort((a, b) => b.size - a.size);
      return {
        time: bar * 2 + k / 10,
        frequencies: partials.map((p) => p.hertz),
        magnitudes: partials.map((p) => p.size),
      };
    }),
  );
}

const raised = (bars: readonly (readonly number[])[], up: number) =>
  bars.map((notes) => notes.map((note) => note + up));
const times = (bars: readonly (readonly number[])[], count: number) =>
  Array.from({ length: count }, () => bars).flat();
const keyOf = (partials: readonly Partials[], phrases: { start: number; end: number }[] = []) =>
  hearKey(silence, tuning, partials, phrases);

describe('the key', () => {
  test.each(['major', 'minor'] as const)('of a %s cadence, wherever it is played', (mode) => {
    for (let up = 0; up < 12; up++) {
      const key = keyOf(sounding(raised(times(cadences[mode], 3), up)));
      expect([key.tonic, key.mode]).toEqual([tonics[up], mode]);
      expect(key.confidence).toBeGreaterThan(0.5);
    }
  });

  test('keeps its confidence when the piece is played higher, and does not see gain', () => {
    const plain = keyOf(sounding(times(cadences.minor, 3)));
    const higher = keyOf(sounding(raised(times(cadences.minor, 3), 5)));
    expect(higher.confidence).toBeCloseTo(plain.confidence, 6);
    expect(keyOf(sounding(times(cadences.minor, 3), 0.001))).toEqual(plain);
  });

  test('is that of the opening where the end comes back a whole tone higher', () => {
    const bars = [...times(cadences.minor, 4), ...raised(times(cadences.minor, 3), 2)];
    const phrases = [0, 8, 16, 24, 32, 40, 48].map((start) => ({ start, end: start + 8 }));
    expect(keyOf(sounding(bars), phrases)).toMatchObject({ tonic: 'C', mode: 'minor' });
  });

  test('is unclear in silence, in twelve even pitch classes and among notes by chance', () => {
    expect(keyOf([])).toEqual({ tonic: 'unclear', mode: 'unclear', confidence: 0 });
    const all = Array.from({ length: 12 }, (_, c) => 60 + c);
    expect(keyOf(sounding([all, all, all, all])).tonic).toBe('unclear');
    const chance = new Chance(4);
    const hiss: Partials[] = Array.from({ length: 300 }, (_, k) => ({
      time: k / 10,
      frequencies: Array.from({ length: 24 }, () => 60 * 2 ** chance.between(0, 5)),
      magnitudes: Array.from({ length: 24 }, () => 1),
    }));
    expect(keyOf(hiss).tonic).toBe('unclear');
  });

  test('is unclear of one note or a bare fifth, and known of a triad, however many overtones there are', () => {
    // Strings and reeds have overtones that fall off by 1/n and less (Fletcher and Rossing 1998, from memory).
    for (const falls of [0.6, 1, 1.6]) {
      const heard = (notes: readonly number[]) => hearKey(tones(notes, falls), tuning);
      expect(heard([57]).tonic).toBe('unclear');
      expect(heard([48, 55]).tonic).toBe('unclear');
      expect(heard([48, 52, 55])).toMatchObject({ tonic: 'C', mode: 'major' });
      expect(heard([57, 60, 64])).toMatchObject({ tonic: 'A', mode: 'minor' });
    }
  });
});

/** A second of held notes with thirty partials each. */
function tones(notes: readonly number[], falls: number): Audio {
  const sampleRate = 44100;
  const samples = new Float32Array(sampleRate);
  for (const note of notes)
    for (let n = 1; n <= 30; n++) {
      const turn = (2 * Math.PI * 440 * 2 ** ((note - 69) / 12) * n) / sampleRate;
      if (turn > 2.5) break;
      for (let i = 0; i < samples.length; i++)
        samples[i] += (0.1 / n ** falls) * Math.sin(turn * i + n);
    }
  return { sampleRate, channels: [samples] };
}
