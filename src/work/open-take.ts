import { InputError } from '../../shared/math/input-error.ts';
import type { Progress } from '../../shared/math/progress.ts';
import { type Audio, lengthOf, secondsOf } from '../../shared/take/audio.ts';
import { widen } from '../../shared/take/channels.ts';
import type { Library } from '../store/library.ts';
import type { Project, SourceFile, StemFile } from '../store/project.ts';
import { partOfLabel } from '../store/stem-commands.ts';
import type { StemSound, TakeSound } from './desk.ts';
import { untilAnswered } from './job-client.ts';
import { readKept, readRecording } from './read-recording.ts';
import { inSharedMemory } from './shared-memory.ts';
import type { WorkerLine } from './workers.ts';

/** A recording as it came in. */
export interface RecordingFile {
  readonly name: string;
  readonly blob: Blob;
  /** What the stem is called; without it the file's name says so. */
  readonly label?: string;
}

export interface ReadFile {
  readonly source: SourceFile;
  readonly label: string;
  readonly audio: Audio;
  /** What is to be said about it: that its end is missing. */
  readonly note?: string | null;
}

/** How much longer or shorter than the take a stem may be and still be taken for a part of it, in seconds. */
const slack = 1;

/** Files that were opened in this window, by hash: what the browser does not keep can still be handed over. */
export type FilesAtHand = Map<string, Blob>;

/** Reads recordings and keeps their files. `refused` is told when there was no room for one: the work goes on. */
export async function readFiles(
  files: readonly RecordingFile[],
  line: WorkerLine,
  signal: AbortSignal,
  progress: Progress,
  refused: () => void,
  atHand: FilesAtHand,
): Promise<ReadFile[]> {
  const read: ReadFile[] = [];
  for (const [i, file] of files.entries()) {
    progress(i / files.length, `reading ${file.name}`);
    const { name, blob } = file;
    const { audio, hash, note } = await readRecording(line, signal, { name, blob });
    if (lengthOf(audio) === 0)
      throw new InputError(`${file.name} holds no sound; choose a file that does.`);
    atHand.set(hash, blob);
    const kept = await untilAnswered(signal, () => line.jobs.keepFile(signal, { blob, hash }));
    if (!kept) refused();
    read.push({
      source: {
        hash,
        name: file.name,
        sampleRate: audio.sampleRate,
        channels: audio.channels.length,
        seconds: secondsOf(audio),
      },
      label: file.label ?? labelOf(file.name),
      audio,
      note,
    });
  }
  return read;
}

/** "Boathouse 2 - Viola.wav" is "Viola": what stands after the last dash, comma or underscore, else the whole name. */
function labelOf(name: string): string {
  const bare = name.replace(/\.[^.]*$/, '');
  const last = bare
    .split(/\s-\s|,|_/)
    .pop()
    ?.trim();
  return last || bare || 'stem';
}

/** Which of several recordings is the take itself: the one that says so, else the longest, else the loudest. */
export function chooseTake(files: readonly ReadFile[]): number {
  if (files.length === 1) return 0;
  const said = files.findIndex((file) =>
    /\b(mix|take|master|full)\b/i.test(file.source.name.replaceAll('_', ' ')),
  );
  if (said >= 0) return said;
  let best = 0;
  const rank = files.map((file) => ({ seconds: file.source.seconds, power: powerOf(file.audio) }));
  rank.forEach((one, i) => {
    const to = rank[best] ?? one;
    const longer = one.seconds - to.seconds;
    if (longer > 0.01 || (Math.abs(longer) <= 0.01 && one.power > to.power)) best = i;
  });
  return best;
}

function powerOf(audio: Audio): number {
  let power = 0;
  for (const channel of audio.channels)
    for (let i = 0; i < channel.length; i += 7) power += channel[i] * channel[i];
  return power;
}

/** A stem brought to the take's length: cut or filled up at the end. Throws InputError where it is none of the take's. */
function fitStem(stem: ReadFile, take: SourceFile, length: number): Audio {
  const { audio, source } = stem;
  if (audio.sampleRate !== take.sampleRate)
    throw new InputError(
      `${source.name} runs at ${source.sampleRate} Hz and the take at ${take.sampleRate} Hz; export both at one rate.`,
    );
  if (Math.abs(source.seconds - take.seconds) > slack)
    throw new InputError(
      `${source.name} is ${source.seconds.toFixed(1)} s long and the take ${take.seconds.toFixed(1)} s; export the stems from the take's start to its end.`,
    );
  if (lengthOf(audio) === length) return audio;
  return inSharedMemory({
    sampleRate: audio.sampleRate,
    channels: audio.channels.map((channel) => {
      const fitted = new Float32Array(length);
      fitted.set(channel.subarray(0, length));
      return fitted;
    }),
  });
}

/** A stem as it is played and rendered: as long as the take, a mono one on as many channels. */
export function stemSound(stem: ReadFile, take: SourceFile, length: number): StemSound {
  const audio = widen(fitStem(stem, take, length), take.channels);
  if (audio.channels.length !== take.channels)
    throw new InputError(
      `${stem.source.name} has ${stem.source.channels} channels and the take ${take.channels}; export both alike, or the stem in mono.`,
    );
  return { hash: stem.source.hash, label: stem.label, audio };
}

/** The sound of a take and its stems. */
export function takeSound(take: ReadFile, stems: readonly ReadFile[]): TakeSound {
  const length = lengthOf(take.audio);
  return { mix: take.audio, stems: stems.map((stem) => stemSound(stem, take.source, length)) };
}

export const stemFile = (stem: ReadFile): StemFile => ({
  ...stem.source,
  ...partOfLabel(stem.label),
});

/** A project that has just begun. */
export function freshProject(take: ReadFile, stems: readonly ReadFile[], name?: string): Project {
  const now = new Date().toISOString();
  return {
    version: 1,
    id: crypto.randomUUID(),
    name: name ?? (take.source.name.replace(/\.[^.]*$/, '') || take.source.name),
    created: now,
    changed: now,
    take: take.source,
    stems: stems.map(stemFile),
    fixes: [],
    cuts: 50,
    slices: [],
    pads: [],
    lanes: [],
  };
}

/** The recordings of a stored project, from the shelf. Throws InputError where the take's is missing. */
export async function readStored(
  project: Project,
  shelf: Library,
  line: WorkerLine,
  signal: AbortSignal,
): Promise<{ sound: TakeSound; missing: readonly string[] }> {
  const read = async (source: SourceFile, label: string): Promise<ReadFile | null> => {
    const audio = await readKept(line, signal, shelf, source);
    return audio && { source, label, audio };
  };
  const take = await read(project.take, '');
  if (!take)
    throw new InputError(
      `The recording ${project.take.name} is no longer kept here; drop it on the page together with the project.`,
    );
  const stems = await Promise.all(project.stems.map((stem) => read(stem, stem.label)));
  return {
    sound: takeSound(
      take,
      stems.filter((stem) => stem !== null),
    ),
    missing: project.stems.filter((_, i) => !stems[i]).map((stem) => stem.name),
  };
}
