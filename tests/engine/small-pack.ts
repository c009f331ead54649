import type { NamedSlice } from '../../shared/cut/slice.ts';
import type { Beat, Onset } from '../../shared/hear/heard.ts';
import { measureLoudness } from '../../shared/hear/loudness/loudness.ts';
import type { Lane } from '../../shared/loop/lane.ts';
import { makeRandom } from '../../shared/math/random.ts';
import { makePack } from '../../shared/pack/pack.ts';
import type { PackInput, PackRecording } from '../../shared/pack/pack-input.ts';
import type { PackWishes } from '../../shared/pack/pack-wishes.ts';
import type { Audio } from '../../shared/take/audio.ts';
import { readWav } from '../../shared/take/wav-read.ts';
import { writeWav } from '../../shared/take/wav-write.ts';

/** A small take with two versions of a stem, two lanes and a slice at each attack, and what is packed of it. */
export const rate = 44100;
export const seconds = 9;

/** Plucked tones on uneven beats: a small take with a stem on each side. */
export const beatTimes = [
  0.4, 0.93, 1.44, 1.99, 2.5, 3.04, 3.55, 4.1, 4.61, 5.16, 5.66, 6.2, 6.7, 7.25,
];

export function plucked(channels: number, gain: number): Audio {
  const random = makeRandom(8);
  const channel = new Float32Array(rate * seconds);
  beatTimes.forEach((time, k) => {
    const hertz = 220 * 2 ** ([0, 3, 7, 10][k % 4] / 12);
    for (let i = 0; i < rate * 0.7; i++) {
      const at = Math.round(time * rate) + i;
      if (at >= channel.length) break;
      const t = i / rate;
      channel[at] +=
        gain * Math.exp(-5 * t) * Math.sin(2 * Math.PI * hertz * t) +
        gain * 0.3 * Math.exp(-300 * t) * (random() - 0.5);
    }
  });
  return { sampleRate: rate, channels: Array.from({ length: channels }, () => channel) };
}

export function recording(name: string, audio: Audio, fill: string): PackRecording {
  const bytes = writeWav(audio, { bits: '24' });
  const read = readWav(bytes, name);
  return { name, hash: fill.repeat(64), ...read, bytes: () => bytes };
}

export const beats = beatTimes.map(
  (time, i): Beat => ({ time, confidence: 0.9, count: (i % 4) + 1, by: 'heard' }),
);
export const onsets = beatTimes.map((time): Onset => ({ time, strength: 1 }));
export const slices = beatTimes.map(
  (time, i): NamedSlice => ({
    id: `s${i}`,
    start: time - 0.01,
    landing: time,
    end: (beatTimes[i + 1] ?? time + 0.6) - 0.011,
    by: 'heard',
  }),
);
const plain = {
  beatsPerBar: 4,
  beatUnit: 4,
  steady: 100,
  tighten: 0,
  grid: '16',
  swing: 50,
} as const;
export const lanes: Lane[] = [
  {
    ...plain,
    id: 'l1',
    name: 'straight',
    bars: 2,
    bpm: 113,
    source: { kind: 'straight', from: 0.4, until: 4.61 },
  },
  {
    ...plain,
    id: 'l2',
    name: 'flip: A/B',
    bars: 1,
    bpm: 97.5,
    source: {
      kind: 'flip',
      placements: [0, 2, 1, 3].map((k, i) => ({
        id: `p${i}`,
        slice: `s${k}`,
        at: i,
        length: null,
        semitones: 0,
        cents: 0,
        level: i === 1 ? -6 : 0,
        direction: 'forwards',
        rings: 'next',
      })),
    },
  },
];

export const take = recording('Evening <take>.wav', plucked(2, 0.3), 'a');
export const input: PackInput = {
  name: 'Evening & "other" <songs>',
  changed: '2026-03-04T05:06:08.000Z',
  take,
  stems: [
    { ...recording('bass.wav', plucked(1, 0.2), 'b'), label: 'Bass', variant: null },
    { ...recording('bass.wav', plucked(2, 0.1), 'c'), label: 'Bass', variant: 'wet' },
  ],
  heard: {
    onsets,
    beats,
    phrases: [
      { start: 0.3, end: 4.4, energy: -20 },
      { start: 4.5, end: 8, energy: -21 },
    ],
    tuning: { a4: 442, cents: 7.85, confidence: 0.9 },
    key: { tonic: 'A', mode: 'minor', confidence: 0.8 },
    loudness: measureLoudness(take.audio),
  },
  slices,
  pads: [],
  lanes,
};

export async function packed(
  wishes: PackWishes = {},
  from = input,
): Promise<Map<string, Uint8Array>> {
  const files = new Map<string, Uint8Array>();
  for (const { name, bytes } of makePack(from, wishes)) {
    if (files.has(name)) throw new Error(`two files are called ${name}`);
    files.set(name, await bytes());
  }
  return files;
}
