import { endsAsRecording } from '../../work/recording-names.ts';

/** What was dropped, and whether a folder was among it. */
export interface Dropped {
  readonly files: readonly File[];
  readonly folders: boolean;
}

/**
 * The files that were dropped, and of folders the recordings in them, however deep, or the project that was unpacked there
 * (File and Directory Entries API, WICG). What is dropped can only be asked for while the event lasts: call it at once.
 */
export async function droppedFiles(transfer: DataTransfer): Promise<Dropped> {
  const files = [...transfer.files];
  const entries = [...transfer.items].flatMap((item) => item.webkitGetAsEntry?.() ?? []);
  const folders = entries.filter(isFolder);
  if (folders.length === 0) return { files, folders: false };
  const loose = await Promise.all(entries.filter(isFile).map(fileOf));
  const held = await Promise.all(folders.map(filesIn));
  return { files: [...loose, ...held.flat()], folders: true };
}

const isFolder = (entry: FileSystemEntry): entry is FileSystemDirectoryEntry => entry.isDirectory;
const isFile = (entry: FileSystemEntry): entry is FileSystemFileEntry => entry.isFile;

const fileOf = (entry: FileSystemFileEntry) =>
  new Promise<File>((resolve, reject) => entry.file(resolve, reject));

/** In the order of their names; what the system hides in a folder is no recording, whatever it is called. */
async function filesIn(folder: FileSystemDirectoryEntry): Promise<File[]> {
  const reader = folder.createReader();
  const all: FileSystemEntry[] = [];
  // Told a hundred at a time, till there is no more.
  for (;;) {
    const some = await new Promise<FileSystemEntry[]>((resolve, reject) =>
      reader.readEntries(resolve, reject),
    );
    if (some.length === 0) break;
    all.push(...some);
  }
  const found: File[] = [];
  for (const entry of all.sort((a, b) => (a.name < b.name ? -1 : 1))) {
    if (entry.name.startsWith('.')) continue;
    if (isFolder(entry)) found.push(...(await filesIn(entry)));
    // It is opened for its recordings; whatever else lies in it is left alone.
    else if (isFile(entry) && (endsAsRecording(entry.name) || entry.name === 'project.json'))
      found.push(await fileOf(entry));
  }
  return found;
}
