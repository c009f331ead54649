import { measureLoudnessInFull } from '../hear/loudness.ts';
import { noteName } from '../hear/note.ts';
import type { Lane } from '../loop/lane.ts';
import { loopLength } from '../loop/length.ts';
import { renderLane } from '../loop/render.ts';
import type { Progress } from '../math/progress.ts';
import { type Audio, lengthOf } from '../take/audio.ts';
import { narrow, widen } from '../take/channels.ts';
import { buildPeaks, peaksBetween } from '../take/peaks.ts';
import { bitsLike, type WavBits, writeWav } from '../take/wav-write.ts';
import { toSamples } from '../time/time-map.ts';
import { beatsCsv } from './beats-csv.ts';
import { guideClick } from './guide-click.ts';
import { id3Key } from './id3-chunk.ts';
import { sliceNotes, writeLaneMidi } from './lane-midi.ts';
import { loopChunks, resampleLoop } from './loop-files.ts';
import {
  type Manifest,
  type StatedFile,
  type StatedLane,
  type StatedLoopFile,
  type StatedRecording,
  type StatedSlice,
  stated,
} from './manifest.ts';
import { manifestSchema } from './manifest-schema.ts';
import { defaultTemplates, fillTemplate, safeName, uniqueNames } from './names.ts';
import type { PackInput, PackRecording, PackWishes } from './pack-input.ts';
import { clearanceText, creditsText, readmeText } from './readme-text.ts';
import { reportHtml } from './report.ts';
import { cutOut, numberSlices, sliceName, sliceWav } from './slice-files.ts';
import { writeTempoMap } from './tempo-map.ts';
import type { ZipEntry } from './zip-write.ts';

/** A part of the performance: the mix, or a stem. */
interface Part {
  readonly recording: PackRecording;
  readonly label: string;
  readonly variant: string | null;
}

/** True peaks above this are warned of; nothing is ever limited. */
const loudestPeak = -1;

const textBytes = (text: string) => new TextEncoder().encode(text);

/**
 * Everything that is handed over, a file at a time in folders under one: the take and its stems as they
 * came with their time written down, each lane as a loop with stems, the slices, a report and a manifest.
 * Files are made as they are taken, so that little more than one is held at once. The same input gives
 * the same bytes.
 *
 * Throws InputError where a lane can't be rendered.
 */
export function* makePack(
  input: PackInput,
  wishes: PackWishes = {},
  progress?: Progress,
): Generator<ZipEntry> {
  const root = safeName(input.name);
  const entry = (file: string, bytes: ZipEntry['bytes']): ZipEntry => ({
    name: `${root}/${file}`,
    bytes,
  });
  const { take, heard } = input;
  const rate = take.audio.sampleRate;
  const parts: Part[] = [
    { recording: take, label: 'mix', variant: null },
    ...input.stems.map((stem) => ({ recording: stem, label: stem.label, variant: stem.variant })),
  ];

  progress?.(0, 'packing the take');
  const recordings: StatedRecording[] = [];
  const sources = uniqueNames(parts.map((part) => part.recording.name));
  for (const [i, part] of parts.entries()) {
    const file = `take/${i === 0 ? '' : 'stems/'}${sources[i]}`;
    recordings.push({
      file,
      part: part.label,
      variant: part.variant,
      sampleRate: part.recording.audio.sampleRate,
      channels: part.recording.audio.channels.length,
      samples: lengthOf(part.recording.audio),
      bits: `${part.recording.bits}${part.recording.float ? 'f' : ''}`,
      hash: part.recording.hash,
    });
    yield entry(file, part.recording.bytes);
  }
  const seconds = lengthOf(take.audio) / rate;
  const tempoMap = {
    file: 'take/tempo map.mid',
    beatsFile: 'take/beats.csv',
    clickFile: 'take/guide click.wav',
  };
  yield entry(tempoMap.file, () =>
    writeTempoMap({ name: input.name, beats: heard.beats, phrases: heard.phrases, seconds }),
  );
  yield entry(tempoMap.beatsFile, () => textBytes(beatsCsv(heard.beats, rate)));
  yield entry(tempoMap.clickFile, () =>
    writeWav(guideClick(heard.beats, lengthOf(take.audio), rate), { bits: '16' }),
  );

  const notes = sliceNotes(input.slices, input.pads, input.lanes);
  const lanes: StatedLane[] = [];
  const laneNames = uniqueNames(input.lanes.map((lane) => lane.name));
  for (const [i, lane] of input.lanes.entries()) {
    const share = 0.8 / input.lanes.length;
    const from = 0.1 + i * share;
    const laneProgress: Progress | undefined =
      progress && ((done) => progress(from + done * share, `rendering ${lane.name}`));
    lanes.push(
      yield* packLane(input, wishes, lane, laneNames[i], parts, notes, entry, laneProgress),
    );
  }

  progress?.(0.9, 'cutting slices');
  const slices = yield* packSlices(input, wishes, parts, notes, entry);

  progress?.(0.97, 'writing the report');
  const manifest: Manifest = {
    $schema: './manifest.schema.json',
    version: 1,
    madeWith: 'Unclicked',
    name: input.name,
    changed: input.changed,
    middleC: 'C4 (60)',
    artist: wishes.artist ?? null,
    take: {
      ...recordings[0],
      loudness: stated(heard.loudness),
      tuning: heard.tuning,
      key: heard.key,
    },
    stems: recordings.slice(1),
    tempoMap,
    beats: heard.beats,
    lanes,
    slices,
    warnings: warningsOf(input, lanes),
  };
  const peaks = buildPeaks(take.audio);
  const peaksOf = (from: number, until: number, columns: number) =>
    peaksBetween(peaks, toSamples(from, rate), toSamples(until, rate), columns);
  yield entry('report.html', () =>
    textBytes(reportHtml({ manifest, phrases: heard.phrases, peaksOf })),
  );
  yield entry('manifest.json', () => textBytes(`${JSON.stringify(manifest, null, 1)}\n`));
  yield entry('manifest.schema.json', () =>
    textBytes(`${JSON.stringify(manifestSchema, null, 1)}\n`),
  );
  yield entry('README.txt', () => textBytes(readmeText(manifest)));
  yield entry('credits.txt', () => textBytes(creditsText(manifest, wishes.credits, wishes.terms)));
  yield entry('clearance.txt', () => textBytes(clearanceText(manifest)));
  progress?.(1, 'packed');
}

type MakeEntry = (file: string, bytes: ZipEntry['bytes']) => ZipEntry;

function bitsOf(wishes: PackWishes, recording: PackRecording): WavBits {
  return wishes.bits ?? bitsLike(recording);
}

/** One lane: its mix and stems, of one exact length, and the MIDI file that plays its slices. */
function* packLane(
  input: PackInput,
  wishes: PackWishes,
  lane: Lane,
  folder: string,
  parts: readonly Part[],
  notes: ReadonlyMap<string, number>,
  entry: MakeEntry,
  progress?: Progress,
): Generator<ZipEntry, StatedLane> {
  const { take, heard } = input;
  const width = take.audio.channels.length;
  const sources = parts.map((part) => widen(part.recording.audio, width));
  const { outputs, landings, ratios, seam } = renderLane(
    { sources, slices: input.slices, onsets: heard.onsets, beats: heard.beats },
    lane,
    progress,
  );
  const rate = wishes.sampleRate ?? take.audio.sampleRate;
  const values = {
    take: input.name,
    lane: lane.name,
    bpm: Number(lane.bpm.toFixed(2)),
    key: heard.key.mode === 'unclear' ? '' : id3Key(heard.key),
    bars: lane.bars,
  };
  const titles = uniqueNames(
    parts.map(({ label, variant }) =>
      fillTemplate(wishes.loopName ?? defaultTemplates.loop, {
        ...values,
        stem: variant ? `${label} ${variant}` : label,
      }),
    ),
  );
  const files: StatedLoopFile[] = [];
  for (const [i, { recording, label, variant }] of parts.entries()) {
    const rendered = narrow(outputs[i], recording.audio.channels.length);
    const loop = resampleLoop(rendered, rate, loopLength(lane, rate));
    const loudness = measureLoudnessInFull(loop);
    const bits = bitsOf(wishes, recording);
    const file = `loops/${folder}/${titles[i]}.wav`;
    files.push({ ...soundFile(file, label, variant, loop, bits), loudness: stated(loudness) });
    const title = titles[i];
    const history = historyOf(loop, bits, lane);
    yield entry(file, () =>
      writeWav(loop, {
        bits,
        chunks: loopChunks(
          loop,
          { title, part: label, lane, landings, loudness, history },
          input,
          wishes,
        ),
      }),
    );
  }
  const midi = `loops/${folder}/${safeName(`${lane.name}, slices`)}.mid`;
  yield entry(midi, () => writeLaneMidi(lane, input.slices, landings, notes));
  const { name, bars, beatsPerBar, beatUnit, bpm, steady, tighten, grid, swing, source } = lane;
  return {
    ...{ name, kind: source.kind, bars, beatsPerBar, beatUnit, bpm, steady, tighten, grid, swing },
    ...{ seam, landings, ratios, files, midi },
  };
}

function historyOf(loop: Audio, bits: WavBits, lane: Lane): string[] {
  const word = bits === '32f' ? 32 : Number(bits);
  const mode =
    loop.channels.length === 1 ? 'mono' : loop.channels.length === 2 ? 'stereo' : 'multi';
  return [
    `A=PCM,F=${loop.sampleRate},W=${word},M=${mode},T=Unclicked; ${lane.source.kind} at ${lane.bpm} bpm`,
  ];
}

function soundFile(
  file: string,
  part: string,
  variant: string | null,
  audio: Audio,
  bits: WavBits,
): StatedFile {
  return {
    file,
    part,
    variant,
    sampleRate: audio.sampleRate,
    channels: audio.channels.length,
    samples: lengthOf(audio),
    bits,
  };
}

/** Every slice of the mix, and of the stems where that was wished. */
function* packSlices(
  input: PackInput,
  wishes: PackWishes,
  parts: readonly Part[],
  notes: ReadonlyMap<string, number>,
  entry: MakeEntry,
): Generator<ZipEntry, StatedSlice[]> {
  const numbered = numberSlices(input.take.audio, input.slices, input.heard.phrases);
  const template = wishes.sliceName ?? defaultTemplates.slice;
  const files = new Map<string, StatedFile[]>(numbered.map(({ slice }) => [slice.id, []]));
  const folders = uniqueNames(parts.map((p) => (p.variant ? `${p.label} ${p.variant}` : p.label)));
  for (const [i, { recording, label, variant }] of parts.entries()) {
    if (i > 0 && !wishes.stemSlices) break;
    const bits = bitsOf(wishes, recording);
    const titles = uniqueNames(
      numbered.map((packed) => sliceName(packed, folders[i], template, input.name)),
    );
    for (const [k, packed] of numbered.entries()) {
      const sound = cutOut(recording.audio, packed.slice);
      const file = `slices/${i === 0 ? '' : `${folders[i]}/`}${titles[k]}.wav`;
      files.get(packed.slice.id)?.push(soundFile(file, label, variant, sound, bits));
      yield entry(file, () => sliceWav(sound, packed, titles[k], bits, input, wishes));
    }
  }
  return numbered.map(({ slice, line, place, pitch }) => ({
    id: slice.id,
    line,
    place,
    start: slice.start,
    landing: slice.landing,
    end: slice.end,
    midiNote: notes.get(slice.id) ?? null,
    pitch: pitch && { note: pitch.note, name: noteName(pitch.note), cents: pitch.cents },
    files: files.get(slice.id) ?? [],
  }));
}

/** What whoever opens the pack should know before it surprises them. */
function warningsOf(input: PackInput, lanes: readonly StatedLane[]): string[] {
  const warnings: string[] = [];
  const { beats, key, tuning } = input.heard;
  if (beats.length < 2)
    warnings.push('No beat is known, so the tempo map keeps to 120 beats a minute throughout.');
  const unsure = beats.filter((beat) => beat.by === 'heard' && beat.confidence < 0.5).length;
  if (unsure > 0)
    warnings.push(
      `${unsure} of ${beats.length} beats are uncertain and were not confirmed; check the tempo map there.`,
    );
  if (key.mode === 'unclear') warnings.push('The key is unclear.');
  if (Math.abs(tuning.cents) > 5 && tuning.confidence > 0.3)
    warnings.push(
      `The take is ${Math.abs(tuning.cents).toFixed(0)} cents ${tuning.cents > 0 ? 'above' : 'below'} A4 = 440 Hz.`,
    );
  for (const lane of lanes) {
    if (!/^quiet/.test(lane.seam.verdict))
      warnings.push(`The seam of "${lane.name}" ${lane.seam.verdict}.`);
    for (const file of lane.files) {
      const peak = file.loudness.truePeak;
      if (peak === null) warnings.push(`${file.file} is silent.`);
      else if (peak > loudestPeak)
        warnings.push(
          `${file.file} peaks at ${peak.toFixed(1)} dBTP, above ${loudestPeak}: ${peak > 0 && file.bits !== '32f' ? 'it is clipped' : 'it may clip when it is coded'}; turn it down or save it as 32-bit float.`,
        );
    }
  }
  return warnings;
}
