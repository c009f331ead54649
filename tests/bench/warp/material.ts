import { createHash } from 'node:crypto';
import { existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { makeRandom } from '../../../shared/math/random.ts';
import type { Samples, Seconds } from '../../../shared/math/units.ts';
import type { Audio } from '../../../shared/take/audio.ts';
import { makeTimeMap, mapTime, type TimeMap } from '../../../shared/time/time-map.ts';
import { renderFluid } from '../../perform/fluid.ts';
import { instrument } from '../../perform/instruments.ts';
import type { Performance, PlayedNote } from '../../perform/played.ts';
import { smallSession } from '../../perform/sets.ts';

/** A performance in free time, the same notes rendered at the mapped times, and what is true of both. */
export interface Material {
  readonly name: string;
  readonly map: TimeMap;
  readonly source: Audio;
  readonly ideal: Audio;
  readonly length: Samples;
  /** Where each attack starts to be rendered in the ideal, and whether an anchor of the map is there. */
  readonly attacks: readonly { readonly at: Samples; readonly anchored: boolean }[];
  /** The source's parts: each instrument apart. */
  readonly stems: readonly Audio[];
}

const rate = 44100;
const cache = fileURLToPath(
  new URL('../../../node_modules/.cache/unclicked-warp', import.meta.url),
);

/** How a map is laid over a performance, and which of its attacks count as anchored. */
export interface Layout {
  readonly seconds: Seconds;
  /** An anchor for every so many beats. */
  readonly every: number;
  /** Least and most that a piece between two anchors is wished to last, over the usual one. */
  readonly wishes: readonly [number, number];
  /** An attack counts as anchored within this of an anchor. */
  readonly anchored: Seconds;
}

const everyBeat: Layout = { seconds: 21, every: 1, wishes: [0.75, 1.35], anchored: 0.02 };

/**
 * Ten performances of about 20 s, half piano alone, half piano with bass and brushes. Every note is rendered
 * by itself and laid down at a whole sample, in the source where it was played, in the ideal where the map
 * puts it (its end mapped as well): so the two differ in time only, to the sample.
 */
export function material(count = 10, firstSeed = 1): Material[] {
  return Array.from({ length: count }, (_, i) => {
    const kind = i % 2 === 0 ? 'piano' : 'trio';
    const seed = firstSeed + i;
    const { performance } = smallSession(kind === 'piano' ? 'extreme' : 'trio', seed, 26);
    return mapped(`${kind}-${seed}`, kind, performance, seed, everyBeat);
  });
}

/** A performance, its map by chance, its ideal. */
export function mapped(
  name: string,
  kind: 'piano' | 'trio',
  performance: Performance,
  seed: number,
  layout: Layout,
): Material {
  const seconds = Math.min(layout.seconds, performance.seconds);
  // An anchor is set on the note that is played for the beat, where there is one.
  const beats = performance.beats
    .filter((_, i) => i % layout.every === 0)
    .map((b) => {
      const near = performance.notes
        .map((note) => note.time)
        .sort((x, y) => Math.abs(x - b.time) - Math.abs(y - b.time))[0];
      return Math.round((Math.abs(near - b.time) < 0.08 ? near : b.time) * rate) / rate;
    })
    .filter((t, i, all) => t < seconds - 0.5 && (i === 0 || t > all[i - 1] + 0.15));
  const gaps = beats.slice(1).map((t, i) => t - beats[i]);
  const steady = [...gaps].sort((a, b) => a - b)[gaps.length >> 1];
  const random = makeRandom(seed);
  const [least, most] = layout.wishes;
  let to = beats[0];
  const map = makeTimeMap(
    beats.map((from, i) => {
      const wish = steady * (least + (most - least) * random());
      if (i > 0) to += Math.max(0.5 * gaps[i - 1], Math.min(1.85 * gaps[i - 1], wish));
      return { from, to };
    }),
  );
  const roles = {
    melody: 'grand piano',
    chords: 'grand piano',
    bass: 'double bass',
    drums: 'brushes',
  };
  const notes = performance.notes
    .filter((note) => note.time < seconds - 1)
    .map((note): PlayedNote => {
      const piano = kind === 'piano' || note.part === 'melody' || note.part === 'chords';
      const off = note.time + note.seconds;
      const pedal = piano && performance.pedal.find((p) => p.down <= off && p.up > off);
      return {
        ...note,
        time: Math.round(note.time * rate) / rate,
        seconds: Math.min(5, (pedal ? pedal.up : off) - note.time),
        instrument: instrument(piano ? 'grand piano' : roles[note.part]),
      };
    });
  const length = Math.round((mapTime(map, seconds - 1) + 1.5) * rate);
  const sourceLength = Math.round((seconds + 0.5) * rate);
  const stemOf = (note: PlayedNote): number =>
    ['grand piano', 'double bass', 'brushes'].indexOf(note.instrument.name);
  const landed = notes.map((note): PlayedNote => {
    const at = mapTime(map, note.time);
    return {
      ...note,
      time: at,
      seconds: Math.max(0.03, mapTime(map, note.time + note.seconds) - at),
    };
  });
  const stems = [0, 1, 2]
    .map((s) => notes.filter((n) => stemOf(n) === s))
    .filter((part) => part.length > 0)
    .map((part, s) => lay(part, sourceLength, `${name}-source-${s}`));
  const ideal = lay(landed, length, `${name}-ideal`);
  const attacks = mergeAttacks(notes, landed, map, layout.anchored);
  return { name, map, source: sum(stems), ideal, length, attacks, stems };
}

/** Attacks of the ideal, those within 4 ms of the one before left out. */
function mergeAttacks(
  notes: readonly PlayedNote[],
  landed: readonly PlayedNote[],
  map: TimeMap,
  within: Seconds,
): { at: Samples; anchored: boolean }[] {
  const all = notes
    .map((note, i) => ({
      at: Math.round(landed[i].time * rate),
      anchored: map.anchors.some((a) => Math.abs(a.from - note.time) < within),
    }))
    .sort((a, b) => a.at - b.at);
  return all.filter((a, i) => i === 0 || a.at - all[i - 1].at > 0.004 * rate);
}

function sum(parts: readonly Audio[]): Audio {
  return {
    sampleRate: rate,
    channels: parts[0].channels.map((first, c) =>
      first.map((_, i) => parts.reduce((s, part) => s + part.channels[c][i], 0)),
    ),
  };
}

/** Notes rendered one by one and added at whole samples; kept in a cache by what is played. */
function lay(notes: readonly PlayedNote[], length: Samples, name: string): Audio {
  mkdirSync(cache, { recursive: true });
  const score = createHash('sha256')
    .update(JSON.stringify([notes, length]))
    .digest('hex');
  const path = join(cache, `${name}-${score.slice(0, 12)}.f32`);
  if (!existsSync(path)) {
    const tail: Seconds = 1.2;
    let clock = 0.1;
    const apart = notes.map((note): PlayedNote => {
      const seconds = note.instrument.drums ? 2 : note.seconds;
      const time = Math.ceil(clock * 1000) / 1000;
      clock = time + seconds + tail;
      return { ...note, time, seconds };
    });
    const { audio, starts } = renderFluid(apart, [], clock, 0);
    const mixed = [new Float32Array(length), new Float32Array(length)];
    notes.forEach((note, i) => {
      const at = Math.round(note.time * rate);
      const count = Math.round((apart[i].seconds + tail) * rate) - 64;
      for (let c = 0; c < 2; c++)
        for (let n = 0; n < count && at + n < length; n++)
          mixed[c][at + n] += audio.channels[c][starts[i] + n] ?? 0;
    });
    writeFileSync(path, Buffer.concat(mixed.map((m) => Buffer.from(m.buffer))));
  }
  const bytes = readFileSync(path);
  const all = new Float32Array(
    bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.length),
  );
  const half = all.length / 2;
  return { sampleRate: rate, channels: [all.slice(0, half), all.slice(half)] };
}
