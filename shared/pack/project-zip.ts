import { InputError } from '../math/input-error.ts';
import type { ByteSource } from '../take/byte-source.ts';
import { type Inflate, readZip, type ZippedFile } from './zip-read.ts';
import { writeZip, type ZipEntry } from './zip-write.ts';

/*
 * A project to carry to another machine: a zip of `project.json`, the document, and
 * `audio/HASH.wav` for every recording it names by SHA-256, byte for byte as it came. Recordings are
 * stored, not deflated.
 */

const documentName = 'project.json';

/** A recording of a project: the hash that the document knows it by, and its bytes when asked for. */
export interface ProjectAudio {
  readonly hash: string;
  readonly bytes: () => Uint8Array | Promise<Uint8Array>;
}

/** Writes a project with its recordings, piece by piece. `date` is the moment of its last change. */
export function writeProjectZip(
  document: string,
  audio: readonly ProjectAudio[],
  date: string,
): AsyncGenerator<Uint8Array> {
  const seen = new Set<string>();
  const files = audio.filter(({ hash }) => !seen.has(hash) && seen.add(hash));
  const entries: ZipEntry[] = [
    { name: documentName, bytes: () => new TextEncoder().encode(document) },
    ...files.map(({ hash, bytes }) => ({ name: `audio/${hash}.wav`, bytes })),
  ];
  return writeZip(entries, { date });
}

/** A project as it was read: the document's JSON, not yet checked, and the recordings by hash, read when asked for. */
export interface UnpackedProject {
  readonly document: unknown;
  readonly audio: ReadonlyMap<string, ZippedFile>;
}

/**
 * Reads a project written by `writeProjectZip`, also when another program has packed it again (then it
 * wants `inflate`). Throws InputError where it is none.
 */
export function readProjectZip(
  source: ByteSource,
  name: string,
  inflate?: Inflate,
): UnpackedProject {
  const files = readZip(source, name, inflate);
  // A folder that was unpacked and packed again may stand inside a folder.
  const documentPath = [...files.keys()].find((path) => /^(?:[^/]+\/)?project\.json$/.test(path));
  const file = documentPath === undefined ? undefined : files.get(documentPath);
  if (!file)
    throw new InputError(`${name} holds no ${documentName}; name a project file as it was saved.`);
  let document: unknown;
  try {
    document = JSON.parse(new TextDecoder().decode(file.bytes()));
  } catch (error) {
    if (error instanceof InputError) throw error;
    throw new InputError(
      `${documentName} in ${name} is not JSON; the project is damaged: copy it again.`,
    );
  }
  const audio = new Map<string, ZippedFile>();
  for (const [path, content] of files) {
    const hash = /(?:^|\/)audio\/([0-9a-f]{64})\.[^/]*$/.exec(path)?.[1];
    if (hash) audio.set(hash, content);
  }
  return { document, audio };
}
