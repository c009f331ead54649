import { type HeardTake, slicesOf, tempoOf } from '../../shared/cut/hear-take.ts';
import type { Percent } from '../../shared/math/units.ts';
import { type Audio, secondsOf } from '../../shared/take/audio.ts';

/** What `hear` prints. The keys are a contract with scripts: they may gain company, never change. */
export function heardJson(audio: Audio, heard: HeardTake, cuts: Percent) {
  const tempo = tempoOf(heard.beats);
  return {
    version: 1,
    take: {
      sampleRate: audio.sampleRate,
      channels: audio.channels.length,
      seconds: secondsOf(audio),
    },
    onsets: heard.onsets,
    beats: heard.beats,
    tempo: tempo ?? { medianBpm: null, minBpm: null, maxBpm: null },
    phrases: heard.phrases,
    slices: slicesOf(heard, cuts),
    tuning: heard.tuning,
    key: heard.key,
    loudness: heard.loudness,
  };
}

/** JSON with one line for each key, and for each item of a list: short to read, easy to search. */
export function writeJson(value: Readonly<Record<string, unknown>>): string {
  const lines = Object.entries(value).map(([key, content]) => {
    const name = JSON.stringify(key);
    if (!Array.isArray(content)) return `  ${name}: ${JSON.stringify(content)}`;
    if (content.length === 0) return `  ${name}: []`;
    return `  ${name}: [\n${content.map((item) => `    ${JSON.stringify(item)}`).join(',\n')}\n  ]`;
  });
  return `{\n${lines.join(',\n')}\n}\n`;
}
