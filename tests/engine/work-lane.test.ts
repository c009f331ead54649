import { describe, expect, it } from 'vitest';
import type { Beat } from '../../shared/hear/heard.ts';
import type { Lane } from '../../shared/loop/lane.ts';
import { setLane } from '../../src/app/lane/lane-words.ts';
import type { Heard } from '../../src/store/heard.ts';
import { plainLane } from '../../src/store/lane-commands.ts';
import { plainPlacement } from '../../src/store/placement-commands.ts';
import { fileRate, flacBits } from '../../src/work/file-header.ts';
import { metreOf, suggestFlip, suggestStraight } from '../../src/work/make-lane.ts';
import { chooseTake, type ReadFile } from '../../src/work/open-take.ts';

/** Beats in bars of `metre`, the first one at 2 s, each a little longer than the one before. */
function slowingBeats(count: number, metre: number, first = 1): Beat[] {
  let time = 2;
  return Array.from({ length: count }, (_, i) => {
    const beat = {
      time,
      confidence: 0.9,
      count: ((first - 1 + i) % metre) + 1,
      by: 'heard' as const,
    };
    time += 0.6 + i * 0.002;
    return beat;
  });
}

describe('a straight lane', () => {
  it('begins on the one nearby and has whole bars at the median tempo', () => {
    const beats = slowingBeats(40, 4, 4);
    const suggested = suggestStraight(beats, (beats[0]?.time ?? 0) - 0.05, beats[9]?.time ?? 0);
    expect(suggested?.source).toEqual({
      kind: 'straight',
      from: beats[1]?.time,
      until: beats[9]?.time,
    });
    expect(suggested?.settings).toMatchObject({ bars: 2, beatsPerBar: 4, bpm: 99 });
  });

  it('takes nothing of what comes after it into an unfinished bar', () => {
    const beats = slowingBeats(40, 4);
    const until = (last: number) =>
      suggestStraight(beats, beats[0]?.time ?? 0, beats[last]?.time ?? 0);
    expect(until(7)?.settings.bars).toBe(2);
    expect(until(7)?.source).toMatchObject({ until: beats[7]?.time });
    expect(until(6)?.settings.bars).toBe(1);
    expect(until(6)?.source).toMatchObject({ until: beats[4]?.time });
  });

  it('knows the metre by majority and is none without beats', () => {
    expect(metreOf(slowingBeats(20, 3))).toBe(3);
    expect(metreOf([])).toBe(4);
    expect(suggestStraight([], 0, 10)).toBeNull();
  });
});

describe('a flip', () => {
  it('begins as its slices were played', () => {
    const beats = slowingBeats(40, 4);
    const slices = [0, 2, 5].map((i, k) => ({
      id: `s${k}`,
      start: (beats[i]?.time ?? 0) - 0.01,
      landing: beats[i]?.time ?? 0,
      end: (beats[i]?.time ?? 0) + 0.5,
      by: 'heard' as const,
    }));
    const flip = suggestFlip(beats, slices);
    expect(
      flip?.source.kind === 'flip' && flip.source.placements.map((p) => [p.slice, p.at]),
    ).toEqual([
      ['s0', 0],
      ['s1', 2],
      ['s2', 5],
    ]);
    expect(flip?.settings.bars).toBe(2);
  });
});

describe('the words of a flip', () => {
  it("are as long as they sound: by the players' clock, as far as the lane is steady, and drawn out where lengthened", () => {
    const beats = slowingBeats(40, 4);
    const time = (i: number) => beats[i]?.time ?? 0;
    const slices = [0, 12].map((i, k) => ({
      id: `s${k}`,
      start: time(i) - 0.001,
      landing: time(i),
      end: time(i + 2),
      by: 'heard' as const,
    }));
    const heard = { beats, onsets: [] } as unknown as Heard;
    const lengths = (settings: Partial<Lane>, length: number | null = null) => {
      const placements = slices.map((slice, k) => ({
        ...plainPlacement,
        id: `p${k}`,
        slice: slice.id,
        at: 4 * k,
        rings: 'out' as const,
        length,
      }));
      const lane: Lane = {
        ...plainLane,
        id: 'l',
        name: 'flip',
        bars: 4,
        bpm: 60,
        ...settings,
        source: { kind: 'flip', placements },
      };
      return setLane(lane, slices, heard).words.map((word) => word.until - word.at);
    };
    for (const steady of lengths({ steady: 100 })) expect(steady).toBeCloseTo(2, 2);
    // In the players' own seconds a lane of 60 has fewer of them.
    for (const [k, free] of lengths({ steady: 0 }).entries())
      expect(free).toBeCloseTo(time(12 * k + 2) - time(12 * k), 2);
    expect(lengths({ steady: 100 }, 3)).toEqual([3, 3].map((beats) => expect.closeTo(beats, 2)));
    expect(lengths({ steady: 100 }, 1)).toEqual([1, 1]);
  });
});

describe('files', () => {
  it('state their rate, or how fine they are', () => {
    const letters = (text: string) => [...text].map((c) => c.charCodeAt(0));
    // Laid out by RFC 9639, 8.2: 20 bits of rate, 3 of channels less one, 5 of depth less one: 44100 Hz, 2 channels, 16 bits.
    const flac = [
      ...letters('fLaC'),
      0,
      0,
      0,
      34,
      16,
      0,
      16,
      0,
      0,
      0,
      0,
      0,
      0,
      0,
      0x0a,
      0xc4,
      0x42,
      0xf0,
    ];
    expect(flacBits(Uint8Array.from(flac))).toBe(16);
    const page = [...letters('OggS'), ...new Array(22).fill(0), 1, 30];
    expect(fileRate(Uint8Array.from([...page, ...letters('OpusHead')]))).toBe(48000);
    expect(
      fileRate(
        Uint8Array.from([...page, 1, ...letters('vorbis'), 0, 0, 0, 0, 2, 0x80, 0xbb, 0, 0]),
      ),
    ).toBe(48000);
    // ISO/IEC 11172-3 2.4.2.3: MPEG-1 Layer III, 128 kbit/s, 44.1 kHz is FF FB 90; 48 kHz is FF FB 94.
    expect(fileRate(Uint8Array.from([0xff, 0xfb, 0x90, 0, 0, 0, 0, 0]))).toBe(44100);
    const tagged = [...letters('ID3'), 4, 0, 0, 0, 0, 0, 2, 9, 9, 0xff, 0xfb, 0x94, 0, 0, 0, 0];
    expect(fileRate(Uint8Array.from(tagged))).toBe(48000);
    expect(fileRate(Uint8Array.from(letters('no recording at all')))).toBeNull();
  });

  const file = (name: string, seconds: number, level: number): ReadFile => ({
    source: { hash: name, name, sampleRate: 8000, channels: 1, seconds },
    label: name,
    audio: { sampleRate: 8000, channels: [new Float32Array(800).fill(level)] },
  });
  it('are told apart: the take says so, or is the longest, or the loudest', () => {
    expect(chooseTake([file('viola.wav', 9, 1), file('Quay_mix.wav', 8, 0.1)])).toBe(1);
    expect(chooseTake([file('a.wav', 8, 1), file('b.wav', 9, 0.1)])).toBe(1);
    expect(chooseTake([file('a.wav', 9, 0.1), file('b.wav', 9, 1), file('c.wav', 9, 0.2)])).toBe(1);
  });
});
