import { createHash } from 'node:crypto';
import { existsSync, readdirSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { inflateRawSync } from 'node:zlib';
import { InputError } from '../../shared/math/input-error.ts';
import type { Samples } from '../../shared/math/units.ts';
import { readProjectZip } from '../../shared/pack/project-zip.ts';
import { type Audio, lengthOf } from '../../shared/take/audio.ts';
import type { ByteSource } from '../../shared/take/byte-source.ts';
import { widen } from '../../shared/take/channels.ts';
import { excerpt } from '../../shared/take/excerpt.ts';
import type { WavFile } from '../../shared/take/wav-read.ts';
import type { Project, SourceFile } from '../store/project.ts';
import { readProject } from '../store/project-file.ts';
import { readAnyRecording } from './decoders.ts';
import { openSource, readBytes, readJson } from './read-files.ts';

/** A recording of a project: as it came, and decoded. */
export interface ProjectRecording extends WavFile {
  /** How long its file is, where `audio` was cut or filled up to the length of the take. */
  readonly samples?: Samples;
  /** Where its file lies, if not inside the project's. */
  readonly path?: string;
  /** The file as it came. */
  readonly bytes: () => Uint8Array;
  readonly pieces?: () => Iterable<Uint8Array>;
}

/** A project with its recordings, the stems in the document's order. */
export interface OpenProject {
  readonly project: Project;
  readonly take: ProjectRecording;
  readonly stems: readonly ProjectRecording[];
}

/**
 * Opens a project file: the zip that the page saves, or a `project.json` with its `audio` folder beside
 * it. Throws InputError where it is none, comes from a newer version, or a recording is missing or is not
 * the one that its hash names: the cuts would fall elsewhere, and a pack would state a hash that is not so.
 */
export async function openProject(path: string): Promise<OpenProject> {
  const loose = path.endsWith('.json');
  const zip = loose ? null : readProjectZip(openSource(path), path, inflate);
  const { project } = readProject(zip ? zip.document : readJson(path), path);
  const find = (hash: string) => (zip ? zip.audio.get(hash) : besides(path, hash));
  const recording = async (file: SourceFile): Promise<ProjectRecording> => {
    const found = find(file.hash);
    if (!found)
      throw new InputError(
        `${path} holds no recording for ${file.name}; save the project again where its sound plays.`,
      );
    const source = found.source();
    if (hashOf(source) !== file.hash)
      throw new InputError(
        `${path} holds another recording for ${file.name} than the one it was made of; put that one back in its place.`,
      );
    return { ...(await readAnyRecording(source, file.name)), ...found };
  };
  const take = await recording(project.take);
  const stems: ProjectRecording[] = [];
  for (const stem of project.stems)
    stems.push(fitted(await recording(stem), stem.name, take.audio));
  return { project, take, stems };
}

/** A stem brought to the take's length, as the page does: cut or filled up at the end. */
function fitted(stem: ProjectRecording, name: string, take: Audio): ProjectRecording {
  const { audio } = stem;
  if (audio.sampleRate !== take.sampleRate)
    throw new InputError(
      `${name} runs at ${audio.sampleRate} Hz and the take at ${take.sampleRate} Hz; export both at one rate.`,
    );
  const length = lengthOf(take);
  const samples = lengthOf(audio);
  return samples === length ? stem : { ...stem, audio: excerpt(audio, 0, length), samples };
}

const pieceSize = 1 << 20;

/** SHA-256 in hex, a piece at a time. */
function hashOf({ length, read }: ByteSource): string {
  const hash = createHash('sha256');
  const room = new Uint8Array(Math.min(pieceSize, length));
  for (let at = 0; at < length; at += pieceSize)
    hash.update(read(at, Math.min(pieceSize, length - at), room));
  return hash.digest('hex');
}

function inflate(bytes: Uint8Array, size: number): Uint8Array {
  return inflateRawSync(bytes, { maxOutputLength: Math.max(size, 1) });
}

function besides(
  path: string,
  hash: string,
): (Pick<ProjectRecording, 'bytes' | 'path'> & { source: () => ByteSource }) | undefined {
  const folder = join(dirname(path), 'audio');
  if (!existsSync(folder) || !hash) return undefined;
  const file = readdirSync(folder).find((entry) => entry.startsWith(hash));
  if (file === undefined) return undefined;
  const found = join(folder, file);
  return { path: found, bytes: () => readBytes(found), source: () => openSource(found) };
}

/** Where the recordings lie that are not inside the project's file. */
export function loosePaths({ take, stems }: OpenProject): string[] {
  return [take, ...stems].flatMap(({ path }) => (path === undefined ? [] : [path]));
}

/** The take and the stems as parts of one performance: a mono stem of a stereo take sounds on both sides. */
export function partsOf({ take, stems }: OpenProject): Audio[] {
  return [take, ...stems].map(({ audio }) => widen(audio, take.audio.channels.length));
}
