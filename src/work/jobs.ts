import { deflateSync } from 'fflate';
import { type HeardTake, hearTake, slicesOf } from '../../shared/cut/hear-take.ts';
import type { NamedSlice, Slice } from '../../shared/cut/slice.ts';
import { noteOfSlice, type SliceNote } from '../../shared/cut/slice-note.ts';
import { type BeatEvidence, inferBeats, prepareFixes } from '../../shared/hear/beats/beats.ts';
import type { Beat, Fix, Loudness } from '../../shared/hear/heard.ts';
import { measureLoudness } from '../../shared/hear/loudness/loudness.ts';
import { type PitchMoment, trackPitch } from '../../shared/hear/pitch/pitch-track.ts';
import { hearTuning } from '../../shared/hear/pitch/tuning.ts';
import type { Lane } from '../../shared/loop/lane.ts';
import { type RenderedLane, renderLane } from '../../shared/loop/render.ts';
import { InputError } from '../../shared/math/input-error.ts';
import type { Progress } from '../../shared/math/progress.ts';
import type { Percent, Seconds } from '../../shared/math/units.ts';
import { gainFor, type LoopPart, loopFile } from '../../shared/pack/loop-files.ts';
import { type LoopOrigin, loopTitles } from '../../shared/pack/loop-names.ts';
import { makePack } from '../../shared/pack/pack.ts';
import type { PackedHeard, PackInput, PackRecording } from '../../shared/pack/pack-input.ts';
import type { PackWishes } from '../../shared/pack/pack-wishes.ts';
import { writeProjectZip } from '../../shared/pack/project-zip.ts';
import { writeZip } from '../../shared/pack/zip-write.ts';
import { type Audio, lengthOf } from '../../shared/take/audio.ts';
import { narrow } from '../../shared/take/channels.ts';
import { cutOffNote, cutOffOf } from '../../shared/take/cut-off.ts';
import { excerpt } from '../../shared/take/excerpt.ts';
import { isFlac } from '../../shared/take/flac-read.ts';
import { buildPeaks, type Peaks } from '../../shared/take/peaks.ts';
import { readRecording } from '../../shared/take/recording-read.ts';
import { readWavLayout } from '../../shared/take/wav-layout.ts';
import { bitsLike, type WavBits, writeWav } from '../../shared/take/wav-write.ts';
import { toSamples } from '../../shared/time/time-map.ts';
import { type PitchShift, shiftPitch } from '../../shared/warp/pitch.ts';
import { hashOf } from '../store/hash.ts';
import { isFull } from '../store/is-full.ts';
import { type Library, openLibrary } from '../store/library.ts';
import type { Project, SourceFile } from '../store/project.ts';
import { fileBytes } from './file-bytes.ts';
import { flacBits, isWav } from './file-header.ts';
import { writeInto } from './pack-folder.ts';
import { give } from './serve-jobs.ts';
import { inSharedMemory } from './shared-memory.ts';

/**
 * What the worker does for the page. It keeps the open take, so that jobs need not carry it: `keepTake`
 * comes first, `hear` or `keepHeard` before what builds on hearing.
 */
interface Kept {
  readonly mix: Audio;
  readonly stems: readonly Audio[];
}

/** What the browser keeps, as the page knows it too; here, so that whole recordings need not pass through the page. */
let opened: Promise<Library | null> | null = null;
const library = () => {
  // It may be refused just now, while the browser clears what it kept: then it is tried again the next time.
  opened ??= openLibrary().catch(() => {
    opened = null;
    return null;
  });
  return opened;
};

let kept: Kept | null = null;
let evidence: BeatEvidence | null = null;

/** Milliseconds after hearing at which nobody waits for this worker. */
const pause = 400;

/** Makes what the first fix needs while nobody waits. */
function prepareSoon(next: BeatEvidence): void {
  setTimeout(() => {
    if (evidence === next) prepareFixes(next);
  }, pause);
}

function take(): Kept {
  if (!kept) throw new Error('The worker was given no take yet.');
  return kept;
}

const memoryOf = (audios: readonly Audio[]) => audios.flatMap((audio) => audio.channels);

function stretch(audio: Audio, from: Seconds, until: Seconds): Audio {
  return excerpt(audio, toSamples(from, audio.sampleRate), toSamples(until, audio.sampleRate));
}

export const jobs = {
  /**
   * Decodes a WAV or FLAC file, into memory that is read by all sides where that is allowed, and tells its
   * hash; another format is left to the browser's decoder, which only the page can call, and `note` says where its end
   * is missing. Null: it is not kept here.
   */
  async read(
    file: FileHere | KeptFile,
  ): Promise<{ audio: Audio | null; hash: string; note: string | null } | null> {
    const bytes =
      'blob' in file
        ? await fileBytes(file.blob, file.name)
        : await (await library())?.getAudio(file.hash);
    if (!bytes) return null;
    if (bytes.length === 0)
      throw new InputError(`${file.name} is empty; choose a file that holds a recording.`);
    const hash = 'hash' in file ? file.hash : await hashOf(bytes);
    if (!isWav(bytes) && !isFlac(bytes)) {
      const cutOff = cutOffOf(bytes);
      return { audio: null, hash, note: cutOff && cutOffNote(cutOff, file.name) };
    }
    const audio = inSharedMemory(readRecording(bytes, file.name).audio);
    return give({ audio, hash, note: null }, audio.channels);
  },

  /** Keeps a file in the browser; false where there is no room. Where the browser keeps nothing that is told elsewhere. */
  async keepFile(
    { blob, hash }: { blob: Blob; hash: string },
    progress: Progress,
  ): Promise<boolean> {
    const shelf = await library();
    try {
      await shelf?.putAudio(new Uint8Array(await blob.arrayBuffer()), hash, progress);
      return true;
    } catch (error) {
      if (isFull(error)) return false;
      throw error;
    }
  },

  /** Plays the demo take and writes it down as the files that a recorder would have left. */
  async demo(
    _: undefined,
    progress: Progress,
  ): Promise<{ title: string; files: { name: string; label: string; blob: Blob }[] }> {
    const { renderDemo } = await import('../../demo/demo-take.ts');
    const { demoNames } = await import('../../demo/names.ts');
    const { mix, stems } = renderDemo(progress);
    const { title } = demoNames;
    const files = [{ label: 'Take', audio: mix }, ...stems].map(({ label, audio }) => ({
      name: `${title}, ${label}.wav`,
      label,
      blob: new Blob([writeWav(audio, { bits: '24' }) as Uint8Array<ArrayBuffer>]),
    }));
    return { title, files };
  },

  /** The open take: the mix and its stems, all of one length. */
  keepTake(next: Kept): void {
    kept = next;
    evidence = null;
  },

  /** What an earlier worker had gathered for the beats. */
  keepEvidence(next: BeatEvidence): void {
    evidence = next;
    prepareSoon(next);
  },

  /** Hears all there is to hear in the take. With a key it is kept, to be quicker the next time. */
  hear(
    { fixes, key }: { fixes: readonly Fix[]; key?: string },
    progress: Progress,
  ): HeardTake & { peaks: Peaks } {
    const { mix, stems } = take();
    const peaks = buildPeaks(mix);
    const heard = hearTake(mix, { stems, fixes, progress });
    evidence = heard.evidence;
    prepareSoon(heard.evidence);
    if (key) {
      const keeping = { ...heard, peaks: structuredClone(peaks) };
      // Where there is no room it is heard again.
      void library().then((shelf) => shelf?.putHeard(key, keeping).catch(() => {}));
    }
    return give(
      { ...heard, peaks },
      peaks.levels.flatMap(({ min, max, rms }) => [min, max, rms]),
    );
  },

  /** The beats again, after a fix. */
  infer({ fixes }: { fixes: readonly Fix[] }): Beat[] {
    if (!evidence) throw new Error('Nothing was heard yet to infer beats from.');
    return inferBeats(evidence, fixes);
  },

  suggest({
    heard,
    cuts,
  }: {
    heard: Pick<HeardTake, 'onsets' | 'phrases' | 'beats' | 'levels'>;
    cuts: Percent;
  }): Slice[] {
    return slicesOf(heard, cuts);
  },

  /** Renders a lane and measures it, beside the stretch of the take that it is compared with. */
  render(
    { lane, slices, heard, original, stems }: RenderInput,
    progress: Progress,
  ): RenderedLane & { loudness: Loudness; originalLoudness: Loudness } {
    const { mix, stems: parts } = take();
    const sources = stems ? [mix, ...parts] : [mix];
    const rendered = renderLane({ sources, slices, ...heard }, lane, progress);
    return give(
      {
        ...rendered,
        loudness: measureLoudness(rendered.outputs[0]),
        originalLoudness: measureLoudness(stretch(mix, original.from, original.until)),
      },
      memoryOf(rendered.outputs),
    );
  },

  /** A slice of the take and of its stems with the pitch moved and the length kept. */
  pitch({ slice, ...shift }: PitchShift & { slice: Slice }, progress: Progress): Audio[] {
    const { mix, stems } = take();
    const pieces = [mix, ...stems].map((audio) => stretch(audio, slice.start, slice.end));
    const moved = shiftPitch(pieces, shift, progress);
    return give(moved, memoryOf(moved));
  },

  /** The note that each slice plays; see `noteOfSlice`. */
  notes({ slices }: { slices: readonly Slice[] }): (SliceNote | null)[] {
    const { mix, stems } = take();
    return slices.map((slice) => noteOfSlice(mix, stems, slice));
  },

  /**
   * The pitch of one part over time: a stem by its place, or the mix for null.
   */
  track(
    { part, from, until }: { part: number | null; from: Seconds; until: Seconds },
    progress: Progress,
  ): PitchMoment[] {
    const { mix, stems } = take();
    progress(0, 'hearing the tuning');
    return trackPitch((part === null ? mix : stems[part]) ?? mix, { from, until });
  },

  measure({ audio }: { audio: Audio }): Loudness {
    return measureLoudness(audio);
  },

  /** Everything that is handed over, as one zip. */
  async pack(order: PackOrder, progress: Progress): Promise<Blob> {
    const date = order.project.changed;
    return blobOf(writeZip(packEntries(order, progress), { date, deflate: deflateSync }));
  },

  /** The same, file by file into a folder of the disk, under a name that is free there. */
  async packInto(
    { folder, name, ...order }: PackOrder & { folder: FileSystemDirectoryHandle; name: string },
    progress: Progress,
  ): Promise<void> {
    await writeInto(folder, name, packEntries(order, progress));
  },

  /** A project with its recordings in one file. */
  projectZip({
    document,
    audio,
    date,
  }: {
    document: string;
    audio: readonly { hash: string; bytes: Uint8Array }[];
    date: string;
  }): Promise<Blob> {
    const files = audio.map(({ hash, bytes }) => ({ hash, bytes: () => bytes }));
    return blobOf(writeProjectZip(document, files, date));
  },

  /** How a recording's file stores its samples, and so what is made of it. */
  storedBits({ bytes, name }: { bytes: Uint8Array; name: string }): WavBits {
    return bitsLike(storedAs(bytes, name));
  },

  /** The parts of a rendered lane as files. */
  loopFiles(
    { parts, lane, landings, origin, wishes }: LoopOrder,
    progress: Progress,
  ): { name: string; bytes: Uint8Array }[] {
    const titles = loopTitles(parts, lane, origin, wishes);
    const gain = gainFor(parts[0].audio, wishes);
    const files = parts.map((one, i) => {
      const part = { ...one, gain };
      const name = `${titles[i]}.wav`;
      progress(i / parts.length, `writing ${name}`);
      return { name, bytes: loopFile(part, titles[i], lane, landings, origin, wishes).bytes() };
    });
    return give(
      files,
      files.map(({ bytes }) => bytes),
    );
  },
};

/** The files of a pack of the open take, made as they are taken. */
function packEntries({ project, heard, files }: PackOrder, progress: Progress) {
  const { mix, stems } = take();
  const [takeFile, ...stemFiles] = project.stems.length + 1 === files.length ? files : [];
  if (!takeFile) throw new Error('The pack was given other files than the project has.');
  progress(0, 'hearing the stems');
  const parts = project.stems.map((stem, i) => ({
    ...stem,
    ...recording(stem, stems[i] ?? mix, stemFiles[i] ?? takeFile),
  }));
  const input: PackInput = {
    ...project,
    take: recording(project.take, mix, takeFile),
    stems: parts,
    // Stems come and go after the take was heard.
    heard: { ...heard, stemTunings: parts.map((part) => hearTuning(part.audio)) },
  };
  return makePack(input, project.pack, progress);
}

/** How a file stores its samples; what a lossy one decodes to is worth 24 bits. */
function storedAs(bytes: Uint8Array, name: string): { bits: number; float: boolean } {
  if (isWav(bytes)) return readWavLayout(bytes, name);
  return { bits: isFlac(bytes) ? flacBits(bytes) : 24, float: false };
}

/** A recording as a pack wants it. */
function recording(source: SourceFile, audio: Audio, bytes: Uint8Array): PackRecording {
  const { name, hash } = source;
  const { bits, float } = storedAs(bytes, name);
  // A stem is kept as long as the take; its file may be longer or shorter.
  const samples = toSamples(source.seconds, audio.sampleRate) || lengthOf(audio);
  const own = narrow(audio, source.channels);
  return { name, hash, audio: own, samples, bits, float, bytes: () => bytes };
}

async function blobOf(pieces: AsyncIterable<Uint8Array>): Promise<Blob> {
  let blob = new Blob([], { type: 'application/zip' });
  // Each piece goes into the blob at once, which the browser may keep outside the memory.
  for await (const piece of pieces)
    blob = new Blob([blob, piece as Uint8Array<ArrayBuffer>], { type: blob.type });
  return blob;
}

/** A file that was chosen, and one that the browser keeps. */
export interface FileHere {
  readonly name: string;
  readonly blob: Blob;
}
export interface KeptFile {
  readonly name: string;
  readonly hash: string;
}

export interface LoopOrder {
  /** The mix first. */
  readonly parts: readonly Omit<LoopPart, 'gain'>[];
  readonly lane: Lane;
  readonly landings: readonly { readonly at: Seconds }[];
  readonly origin: LoopOrigin;
  readonly wishes: PackWishes;
}

export interface PackOrder {
  readonly project: Project;
  readonly heard: PackedHeard;
  /** The take's and the stems' own, in the document's order. */
  readonly files: readonly Uint8Array[];
}

export interface RenderInput {
  readonly lane: Lane;
  readonly slices: readonly NamedSlice[];
  readonly heard: Pick<HeardTake, 'onsets' | 'beats'>;
  readonly original: { readonly from: Seconds; readonly until: Seconds };
  readonly stems: boolean;
}

export type WorkerJobs = typeof jobs;
