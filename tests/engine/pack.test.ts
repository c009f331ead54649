import Ajv2020 from 'ajv/dist/2020.js';
import { parseMidi } from 'midi-file';
import nodeId3 from 'node-id3';
import { beforeAll, describe, expect, test } from 'vitest';
import { measureLoudness } from '../../shared/hear/loudness/loudness.ts';
import { resample } from '../../shared/math/resample.ts';
import type { Manifest } from '../../shared/pack/manifest.ts';
import { manifestSchema } from '../../shared/pack/manifest-schema.ts';
import { makePack } from '../../shared/pack/pack.ts';
import type { PackInput } from '../../shared/pack/pack-input.ts';
import { counted, keyWords, lengthWords, tuningWords } from '../../shared/pack/pack-words.ts';
import { readWavLayout } from '../../shared/take/wav-layout.ts';
import { readWav } from '../../shared/take/wav-read.ts';
import { takeApart } from '../reference/taken-apart.ts';
import {
  beats,
  input,
  lanes,
  packed,
  plucked,
  rate,
  recording,
  slices,
  take,
} from './small-pack.ts';

/** Vitest's own comparison of long byte arrays takes minutes. */
const same = (a: Uint8Array, b: Uint8Array | undefined) =>
  b !== undefined && Buffer.compare(a, b) === 0;

const root = 'Evening & -other- -songs-';
let files: Map<string, Uint8Array>;
let manifest: Manifest;
const file = (path: string): Uint8Array => {
  const bytes = files.get(`${root}/${path}`);
  if (!bytes) throw new Error(`no ${path} among ${[...files.keys()].join(', ')}`);
  return bytes;
};
const text = (path: string) => new TextDecoder().decode(file(path));

beforeAll(async () => {
  files = await packed({ artist: 'Ada', stemSlices: true });
  manifest = JSON.parse(text('manifest.json')) as Manifest;
});

test('the take and its stems go out byte for byte', async () => {
  expect(same(file(manifest.take.file), await take.bytes())).toBe(true);
  expect(manifest.stems.map((stem) => stem.variant)).toEqual([null, 'wet']);
  for (const [i, stem] of manifest.stems.entries())
    expect(same(file(stem.file), await input.stems[i].bytes())).toBe(true);
});

test('the manifest fits its schema (ajv, JSON Schema 2020-12), and the schema bites', () => {
  const check = new Ajv2020({ strict: true, allowUnionTypes: true }).compile(manifestSchema);
  check(manifest);
  expect(check.errors).toBeNull();
  expect(JSON.parse(text('manifest.schema.json'))).toEqual(
    JSON.parse(JSON.stringify(manifestSchema)),
  );
  expect(check({ ...manifest, lanes: undefined })).toBe(false);
  expect(check({ ...manifest, take: { ...manifest.take, hash: 'x' } })).toBe(false);
});

test('every sound is in the manifest, and every path in the manifest is a file', () => {
  const named = [
    manifest.take,
    ...manifest.stems,
    ...manifest.lanes.flatMap((lane) => lane.files),
    ...manifest.slices.flatMap((slice) => slice.files),
  ];
  for (const sound of named) {
    const layout = readWavLayout(file(sound.file), sound.file);
    expect([layout.frames, layout.channels, layout.sampleRate]).toEqual([
      sound.samples,
      sound.channels,
      sound.sampleRate,
    ]);
  }
  const sounds = [...files.keys()].filter((name) => name.endsWith('.wav'));
  expect(sounds.length).toBe(named.length + 1);
  file(manifest.tempoMap.file);
  file(manifest.tempoMap.beatsFile);
  file(manifest.tempoMap.clickFile);
});

describe('loops', () => {
  test('mix and stems have the exact length of the lane', () => {
    expect(manifest.lanes.map((lane) => lane.files.map((f) => f.samples))).toEqual([
      Array(3).fill(Math.round(((2 * 4 * 60) / 113) * rate)),
      Array(3).fill(Math.round(((4 * 60) / 97.5) * rate)),
    ]);
    expect(manifest.lanes[0].files.map((f) => f.channels)).toEqual([2, 1, 2]);
  });

  test('chunks say what the loop is', () => {
    for (const lane of manifest.lanes)
      for (const sound of lane.files) {
        const bytes = file(sound.file);
        const wav = takeApart(bytes);
        expect(wav.smpl.loops[0]).toMatchObject({ dwStart: 0, dwEnd: sound.samples - 1 });
        expect(wav.cue.points.length).toBe(lane.landings.length);
        for (const point of wav.cue.points)
          expect(point.dwSampleOffset).toBeLessThan(sound.samples);
        expect(wav.bext.description).toContain(`${lane.bpm} bpm`);
        expect(wav.bext.loudnessValue).toBe(
          65536 + Math.round((sound.loudness.integrated ?? 0) * 100),
        );
        const labels = wav.LIST.find((list) => list.format === 'adtl');
        expect(labels?.subChunks.length).toBe(lane.landings.length);
        // The library reads one LIST of a file; the other is found in the bytes.
        expect(Buffer.from(bytes).toString('latin1')).toContain('IKEY\x08\0\0\0A minor\0');
        const { chunks } = readWavLayout(bytes, 'a');
        const id3 = chunks.find((chunk) => chunk.id === 'id3 ');
        const tag = Buffer.from(bytes.subarray(id3?.start, (id3?.start ?? 0) + (id3?.size ?? 0)));
        expect(nodeId3.read(tag)).toMatchObject({
          bpm: String(Math.round(lane.bpm)),
          initialKey: 'Am',
          artist: 'Ada',
        });
      }
  });

  test('the flip has its attacks where its cues are', () => {
    const lane = manifest.lanes[1];
    const { audio } = readWav(file(lane.files[0].file), 'a');
    const level = (from: number) => {
      let sum = 0;
      for (let i = from; i < from + 400; i++) sum += audio.channels[0][i] ** 2;
      return sum;
    };
    for (let beat = 1; beat < 4; beat++) {
      const at = Math.round(((beat * 60) / 97.5) * rate);
      expect(level(at)).toBeGreaterThan(4 * level(at - 400));
    }
  });

  test('at another rate lengths are exact too, and the tone is the same', async () => {
    const other = await packed({ sampleRate: 48000, bits: '16' });
    const name = [...other.keys()].filter((n) => n.includes('/loops/') && n.endsWith('.wav'))[3];
    const { audio, bits } = readWav(other.get(name) ?? new Uint8Array(), name);
    expect(bits).toBe(16);
    expect(audio.sampleRate).toBe(48000);
    expect(audio.channels[0].length).toBe(Math.round(((4 * 60) / 97.5) * 48000));
    const was = measureLoudness(readWav(file(manifest.lanes[1].files[0].file), 'a').audio);
    expect(Math.abs(measureLoudness(audio).integrated - was.integrated)).toBeLessThan(0.05);
  });

  test('the MIDI file plays each slice a lead-in before its place', () => {
    const midi = parseMidi(file(manifest.lanes[1].midi));
    let tick = 0;
    const hits = midi.tracks[1].flatMap((event) => {
      tick += event.deltaTime;
      return event.type === 'noteOn'
        ? [{ tick, note: event.noteNumber, velocity: event.velocity }]
        : [];
    });
    const ppq = midi.header.ticksPerBeat ?? 0;
    const end = 4 * ppq;
    const lead = Math.round((0.01 * 97.5 * ppq) / 60);
    const notes = new Map(manifest.slices.map((slice) => [slice.id, slice.midiNote]));
    expect(hits.map((hit) => hit.note)).toEqual(
      ['s2', 's1', 's3', 's0'].map((id) => notes.get(id)),
    );
    [ppq, 2 * ppq, 3 * ppq, end].forEach((beat, i) => {
      expect(Math.abs(hits[i].tick - (beat - lead))).toBeLessThanOrEqual(1);
    });
    // 6 dB softer by General MIDI's curve, 40 log10 (from memory).
    expect(hits.map((hit) => hit.velocity)).toEqual([71, 100, 100, 100]);
  });
});

describe('slices', () => {
  test("are the take's own samples between their fades, with the landing a cue", () => {
    for (const [i, slice] of manifest.slices.entries()) {
      const bytes = file(slice.files[0].file);
      const { audio } = readWav(bytes, 'a');
      const start = Math.round(slice.start * rate);
      const landing = Math.round(slice.landing * rate) - start;
      const [source] = take.audio.channels;
      const until = audio.channels[0].length - Math.round(0.009 * rate);
      let different = 0;
      for (let k = landing; k < until; k++)
        if (audio.channels[0][k] !== source[start + k]) different++;
      expect(different).toBe(0);
      expect(Math.abs(audio.channels[0].at(-1) ?? 1)).toBeLessThan(1e-4);
      const wav = takeApart(bytes);
      expect(wav.cue.points[0].dwSampleOffset).toBe(landing);
      expect(wav.bext.timeReference).toEqual([start, 0]);
      expect(slice.files.map((f) => [f.part, f.variant])).toEqual([
        ['mix', null],
        ['Bass', null],
        ['Bass', 'wet'],
      ]);
      expect(slice.line).toBe(i < 8 ? 1 : 2);
    }
  });

  test('that were cut in the middle of a sound fade in, and those that land on an attack do not', async () => {
    const cuts = [
      { id: 'middle', start: 1.0001, landing: 1.0001, end: 1.4, by: 'hand' },
      { id: 'attack', start: 1.44, landing: 1.44, end: 1.9, by: 'hand' },
    ] as const;
    const files = await packed({}, { ...input, slices: cuts, lanes: [] });
    const [middle, attack] = [...files.keys()].filter((name) => name.includes('/slices/')).sort();
    const soundOf = (name: string) => readWav(files.get(name) ?? new Uint8Array(), name).audio;
    const [source] = take.audio.channels;
    const cut = soundOf(middle).channels[0];
    const from = Math.round(1.0001 * rate);
    expect(Math.abs(source[from])).toBeGreaterThan(0.02);
    expect(Math.abs(cut[0])).toBeLessThan(1e-3);
    expect(cut[100]).toBe(source[from + 100]);
    const first = soundOf(attack).channels[0].slice(0, 500);
    expect(first).toEqual(source.slice(Math.round(1.44 * rate), Math.round(1.44 * rate) + 500));
  });

  test('name the note they play', () => {
    expect(manifest.slices.slice(0, 4).map((slice) => slice.pitch?.name)).toEqual([
      'A3',
      'C4',
      'E4',
      'G4',
    ]);
    expect(manifest.slices[0].files[0].file).toContain('01-01 A3');
    expect(Math.abs((manifest.slices[0].pitch?.hertz ?? 0) - 220)).toBeLessThan(0.5);
  });
});

test('a title of spaces alone is none, in all places', async () => {
  const told = await packed({ title: ' ' }, { ...input, name: 'Evening' });
  const loops = [...told.keys()].filter((name) => /\/loops\/.*\.wav$/.test(name));
  for (const name of loops) {
    expect(name).toMatch(/^Evening\/loops\/[^/]+\/Evening /);
    const body = Buffer.from(told.get(name) ?? []).toString('latin1');
    expect(body).toContain('IPRD\x08\0\0\0Evening\0');
  }
});

test('the guide click starts each click on its beat', () => {
  const { audio } = readWav(file(manifest.tempoMap.clickFile), 'a');
  const [click] = audio.channels;
  for (const beat of beats) {
    const at = Math.round(beat.time * rate);
    expect(Math.abs(click[at])).toBeGreaterThan(beat.count === 1 ? 0.4 : 0.2);
    expect(click[at - 1]).toBe(0);
  }
  expect(click.length).toBe(take.audio.channels[0].length);
});

test('the table of beats is RFC 4180', () => {
  const rows = text(manifest.tempoMap.beatsFile).split('\r\n');
  expect(rows[0]).toBe('beat,bar,count,seconds,sample,bpm,confidence,by');
  expect(rows[2]).toBe(`2,1,2,0.930000,${Math.round(0.93 * rate)},117.647,0.900,heard`);
  expect(rows.length).toBe(beats.length + 2);
});

test('the report has pictures, no scripts, and no text that breaks out', () => {
  const html = text('report.html');
  expect(html.match(/<svg/g)?.length).toBeGreaterThanOrEqual(4);
  expect(html).not.toMatch(/<script|javascript:|\son\w+=|<link|<img|https?:/i);
  expect(html).toContain('Evening &amp; &quot;other&quot; &lt;songs&gt;');
  expect(html).not.toContain('<songs>');
  expect(html).not.toMatch(/NaN|undefined|Infinity/);
});

test('texts say what was typed, and what was not', async () => {
  expect(text('credits.txt')).toContain('None were stated');
  expect(text('README.txt')).toContain('A = 442.0 Hz'.replace('A =', 'A4 ='));
  expect(text('clearance.txt')).toContain(take.hash);
  const told = await packed({
    artist: 'Ada & co',
    credits: 'Played by Ada\nand Bas',
    terms: 'Ask <first>',
  });
  const html = new TextDecoder().decode(told.get(`${root}/report.html`));
  expect(html).toContain('<p>By Ada &amp; co. 4 March 2026.');
  expect(html).toContain('Played by Ada\nand Bas');
  expect(html).toContain('Ask &lt;first&gt;');
  const stated = JSON.parse(new TextDecoder().decode(told.get(`${root}/manifest.json`)));
  expect(stated).toMatchObject({ credits: 'Played by Ada\nand Bas', terms: 'Ask <first>' });
  const readme = new TextDecoder().decode(told.get(`${root}/README.txt`));
  expect(readme).toContain('By Ada & co. Recorded without a click.');
  // A plain viewer is 80 wide; only paths are longer.
  for (const line of readme.split('\r\n'))
    if (!line.startsWith('  ')) expect(line.length).toBeLessThanOrEqual(78);
  const credits = new TextDecoder().decode(told.get(`${root}/credits.txt`));
  expect(credits).toContain('Played by Ada\r\nand Bas');
  expect(credits).toContain('Ask <first>');
});

describe('what is wished', () => {
  test('a title names everything, an artist and terms stand in every sound', async () => {
    const told = await packed({
      title: 'Low: Tide',
      artist: 'Ada',
      terms: '\n Ask first.\nThen use',
    });
    for (const name of told.keys()) expect(name).toMatch(/^Low- Tide\//);
    const sounds = [...told].filter(([name]) => /\/(loops|slices)\/.*\.wav$/.test(name));
    expect(sounds.length).toBe(lanes.length * 3 + slices.length);
    for (const [name, bytes] of sounds) {
      expect(name).toContain('/Low- Tide ');
      const body = Buffer.from(bytes).toString('latin1');
      expect(body).toContain('IART\x04\0\0\0Ada\0');
      // Thirteen letters with the zero, padded to an even place.
      expect(body).toContain('ICOP\x0b\0\0\0Ask first.\0\0');
      expect(body).toContain('IPRD\x0a\0\0\0Low: Tide\0');
    }
  });

  test('slices at another rate sound as before, their landing where the attack is', async () => {
    const told = await packed({
      sampleRate: 48000,
      bits: '32f',
      loopName: '{lane}',
      sliceName: '{line} {place}',
    });
    const found = JSON.parse(
      new TextDecoder().decode(told.get(`${root}/manifest.json`)),
    ) as Manifest;
    for (const slice of found.slices) {
      const [mix] = slice.files;
      expect(mix.sampleRate).toBe(48000);
      const bytes = told.get(`${root}/${mix.file}`) ?? new Uint8Array();
      const { audio } = readWav(bytes, 'a');
      const [own] = readWav(file(manifest.slices[found.slices.indexOf(slice)].files[0].file), 'a')
        .audio.channels;
      const ideal = resample(own, 44100, 48000);
      expect(Math.abs(audio.channels[0].length - ideal.length)).toBeLessThanOrEqual(1);
      const off = ideal.map((v, i) => Math.abs(v - (audio.channels[0][i] ?? 0)));
      // 24-bit against float: a step of dither.
      expect(off.reduce((a, b) => Math.max(a, b))).toBeLessThan(1e-6);
      const wav = takeApart(bytes);
      expect(wav.bext.timeReference[0]).toBe(Math.round(slice.start * 48000));
      const lead = (slice.landing - slice.start) * 48000;
      expect(Math.abs(wav.cue.points[0].dwSampleOffset - lead)).toBeLessThanOrEqual(1.6);
    }
    expect(found.lanes.map((lane) => lane.files[0].file)).toEqual([
      'loops/straight/straight.wav',
      'loops/flip- A-B/flip- A-B.wav',
    ]);
  });

  test('a loudness is reached by one gain for mix and stems, and what peaks too high is warned of', async () => {
    const told = await packed({ loudness: -12, bits: '32f' });
    const found = JSON.parse(
      new TextDecoder().decode(told.get(`${root}/manifest.json`)),
    ) as Manifest;
    found.lanes.forEach((lane, i) => {
      const before = manifest.lanes[i].files;
      expect(lane.files[0].loudness.integrated).toBeCloseTo(-12, 1);
      expect(lane.gain).toBeCloseTo(-12 - (before[0].loudness.integrated ?? 0), 1);
      lane.files.forEach((sound, k) => {
        const moved = (sound.loudness.integrated ?? 0) - (before[k].loudness.integrated ?? 0);
        expect(moved).toBeCloseTo(lane.gain, 1);
        const [was] = readWav(file(before[k].file), 'a').audio.channels;
        const [is] = readWav(told.get(`${root}/${sound.file}`) ?? new Uint8Array(), 'a').audio
          .channels;
        const by = 10 ** (lane.gain / 20);
        const off = was.reduce((most, v, n) => Math.max(most, Math.abs(v * by - is[n])), 0);
        // The gain is stated to a hundredth of a decibel; the other file has 24 bits with dither.
        expect(off).toBeLessThan(2e-3);
      });
      expect(found.warnings.some((w) => w.includes(lane.files[0].file))).toBe(
        (lane.files[0].loudness.truePeak ?? -99) > -1,
      );
    });
    expect(manifest.lanes.map((lane) => lane.gain)).toEqual([0, 0]);
    const report = new TextDecoder().decode(told.get(`${root}/report.html`));
    expect(report).toMatch(/turned (up|down) by \d+\.\d dB, as was wished/);
  });

  test.each(['stored', 'texts', 'deflated'] as const)('zipped with %s', async (packing) => {
    const shrunk = new Map<string, boolean>();
    for (const { name, shrink } of makePack(input, { packing })) shrunk.set(name, shrink !== false);
    const kind = (ending: RegExp) =>
      [...shrunk].filter(([name]) => ending.test(name)).map(([, yes]) => yes);
    expect(new Set(kind(/\/take\/.*bass.*\.wav$/))).toEqual(new Set([false]));
    expect(new Set(kind(/\/(loops|slices)\/.*\.wav$/))).toEqual(new Set([packing === 'deflated']));
    expect(new Set(kind(/\.(json|html|csv|txt)$/))).toEqual(new Set([packing !== 'stored']));
  });
});

test('what is not sure is not stated as if it were', () => {
  expect(keyWords({ tonic: 'D', mode: 'minor', confidence: 0.9 })).toBe('D minor');
  expect(keyWords({ tonic: 'D', mode: 'minor', confidence: 0.4 })).toBe('probably D minor');
  expect(keyWords({ tonic: 'unclear', mode: 'unclear', confidence: 0 })).toBe('unclear');
  const tuning = { a4: 441.2, cents: 4.72, confidence: 0.8 };
  expect(tuningWords(tuning)).toBe('A4 = 441.2 Hz, +4.7 cents');
  expect(tuningWords({ ...tuning, cents: -0.02 })).toBe('A4 = 441.2 Hz, 0.0 cents');
  expect(tuningWords({ ...tuning, drift: -7 })).toMatch(/falling by 7 cents over the take$/);
  expect(tuningWords({ ...tuning, confidence: 0.1 })).toMatch(/not clear enough/);
  expect([1, 3, 14].map((n) => counted(n, 'loop'))).toEqual([
    'one loop',
    'three loops',
    '14 loops',
  ]);
  expect([9.25, 99.94, 100, 192].map(lengthWords)).toEqual([
    '9.3 s',
    '99.9 s',
    '1 min 40 s',
    '3 min 12 s',
  ]);
});

test('the same project gives the same bytes', async () => {
  const again = await packed({ artist: 'Ada', stemSlices: true });
  expect([...again.keys()]).toEqual([...files.keys()]);
  for (const [name, bytes] of again) expect(same(bytes, files.get(name)), name).toBe(true);
});

test('a loop that peaks above -1 dBTP is warned of and left as it is', async () => {
  const loud = recording('loud.wav', plucked(2, 0.97), 'd');
  const { lanes } = input;
  const out = await packed({}, { ...input, take: loud, stems: [], lanes: [lanes[0]] });
  const found = JSON.parse(new TextDecoder().decode(out.get(`${root}/manifest.json`))) as Manifest;
  const peak = found.lanes[0].files[0].loudness.truePeak ?? -99;
  expect(peak).toBeGreaterThan(-1);
  expect(found.warnings.join()).toContain(`peaks at ${peak.toFixed(1)} dBTP`);
});

test('a project without beats, lanes, slices or stems still makes a pack', async () => {
  const bare: PackInput = {
    ...input,
    stems: [],
    lanes: [],
    slices: [],
    heard: { ...input.heard, beats: [], phrases: [], onsets: [] },
  };
  const out = await packed({}, bare);
  const found = JSON.parse(new TextDecoder().decode(out.get(`${root}/manifest.json`)));
  const check = new Ajv2020({ strict: true, allowUnionTypes: true }).compile(manifestSchema);
  expect(check(found)).toBe(true);
});
