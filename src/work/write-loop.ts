import type { Progress } from '../../shared/math/progress.ts';
import type { LoopPart } from '../../shared/pack/loop-files.ts';
import { narrow } from '../../shared/take/channels.ts';
import type { WavBits } from '../../shared/take/wav-write.ts';
import type { Heard } from '../store/heard.ts';
import type { Project, SourceFile } from '../store/project.ts';
import type { Loop, NamedFile } from './desk.ts';
import { isAbort } from './job-client.ts';
import type { WorkerLine } from './workers.ts';

/** How the file of a recording stores its samples. */
export type Storage = (signal: AbortSignal, source: SourceFile) => Promise<WavBits>;

/** Looks into each file once; one that is not kept here counts as 24-bit. */
export function createStorage(
  line: WorkerLine,
  fileOf: (source: SourceFile) => Promise<Uint8Array>,
): Storage {
  const known = new Map<string, WavBits>();
  return async (signal, source) => {
    const there = known.get(source.hash);
    if (there) return there;
    try {
      const bytes = await fileOf(source);
      const bits = await line.jobs.storedBits(signal, { bytes, name: source.name });
      known.set(source.hash, bits);
      return bits;
    } catch (error) {
      if (isAbort(error)) throw error;
      return '24';
    }
  };
}

/** What a loop is written with. */
export interface Writing {
  readonly line: WorkerLine;
  readonly signal: AbortSignal;
  readonly project: Project;
  readonly heard: Pick<Heard, 'key'>;
  readonly storage: Storage;
}

/** A rendered loop as WAV files, as the project wishes them: the mix, and with `stems` each stem beside it. */
export async function writeLoop(
  { line, signal, project, heard, storage }: Writing,
  loop: Loop,
  stems: boolean,
  progress?: Progress,
): Promise<NamedFile[]> {
  const wishes = project.pack ?? {};
  const bitsOf = async (source: SourceFile) => wishes.bits ?? (await storage(signal, source));
  const parts: Omit<LoopPart, 'gain'>[] = [
    { audio: loop.mix, part: 'mix', variant: null, bits: await bitsOf(project.take) },
  ];
  for (const { hash, audio } of stems ? loop.stems : []) {
    const stem = project.stems.find((one) => one.hash === hash);
    if (!stem) continue;
    const { label, variant, channels } = stem;
    // A mono stem went along on all channels and leaves as it came.
    const own = narrow(audio, channels);
    parts.push({ audio: own, part: label, variant, bits: await bitsOf(stem) });
  }
  const { name, changed, take } = project;
  const origin = { name, changed, take: { hash: take.hash }, heard: { key: heard.key } };
  const order = { parts, lane: loop.lane, landings: loop.attacks, origin, wishes };
  const files = await line.jobs.loopFiles(signal, order, progress);
  return files.map(({ name, bytes }) => ({
    name,
    blob: new Blob([bytes as Uint8Array<ArrayBuffer>], { type: 'audio/wav' }),
  }));
}
