import { withinTake } from '../cut/within-take.ts';
import type { Progress } from '../math/progress.ts';
import { lengthOf, secondsOf } from '../take/audio.ts';
import { buildPeaks, peaksBetween } from '../take/peaks.ts';
import { writeWav } from '../take/wav-write.ts';
import { toSamples } from '../time/time-map.ts';
import { beatsCsv } from './beats-csv.ts';
import { guideClick } from './guide-click.ts';
import { sliceNotes } from './lane-midi.ts';
import { type Manifest, type StatedLane, type StatedRecording, stated } from './manifest.ts';
import { manifestSchema } from './manifest-schema.ts';
import { safeName, uniqueNames } from './names.ts';
import type { PackInput } from './pack-input.ts';
import { packLane } from './pack-lane.ts';
import type { Part } from './pack-part.ts';
import { packSlices } from './pack-slices.ts';
import { warningsOf } from './pack-warnings.ts';
import { type PackWishes, titleOf } from './pack-wishes.ts';
import { clearanceText, creditsText, readmeText } from './readme-text.ts';
import { reportHtml } from './report.ts';
import { writeTempoMap } from './tempo-map.ts';
import type { ZipEntry } from './zip-write.ts';

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
  project: PackInput,
  wishes: PackWishes = {},
  progress?: Progress,
): Generator<ZipEntry> {
  const input: PackInput = {
    ...project,
    name: titleOf(wishes, project.name),
    slices: withinTake(project.slices, secondsOf(project.take.audio)),
  };
  const root = safeName(input.name);
  const packing = wishes.packing ?? 'texts';
  const entry = (file: string, bytes: ZipEntry['bytes']): ZipEntry => ({
    name: `${root}/${file}`,
    bytes,
    // Text shrinks well; sound hardly does, and deflating it takes long.
    shrink: packing === 'deflated' || (packing === 'texts' && !file.endsWith('.wav')),
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
      samples: part.recording.samples ?? lengthOf(part.recording.audio),
      bits: `${part.recording.bits}${part.recording.float ? 'f' : ''}`,
      hash: part.recording.hash,
    });
    const { bytes, pieces } = part.recording;
    // As they came, so that they are taken out as fast as they are read.
    yield { ...entry(file, bytes), ...(pieces && { pieces }), shrink: false };
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

  const cutting: Progress | undefined =
    progress && ((done) => progress(0.9 + 0.07 * done, 'cutting slices'));
  const slices = yield* packSlices(input, wishes, parts, notes, entry, cutting);

  progress?.(0.97, 'writing the report');
  const manifest: Manifest = {
    $schema: './manifest.schema.json',
    version: 1,
    madeWith: 'Unclicked',
    name: input.name,
    changed: input.changed,
    middleC: 'C4 (60)',
    artist: wishes.artist ?? null,
    credits: wishes.credits ?? null,
    terms: wishes.terms ?? null,
    take: {
      ...recordings[0],
      loudness: stated(heard.loudness),
      tuning: heard.tuning,
      key: heard.key,
    },
    stems: recordings
      .slice(1)
      .map((stem, i) => ({ ...stem, tuning: heard.stemTunings?.[i] ?? null })),
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
  yield entry('credits.txt', () => textBytes(creditsText(manifest)));
  yield entry('clearance.txt', () => textBytes(clearanceText(manifest)));
  progress?.(1, 'packed');
}
