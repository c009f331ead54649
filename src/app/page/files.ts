import type { NamedFile } from '../../work/desk.ts';

/** Lets the user choose files; none when the list is closed again. */
export function chooseFiles(): Promise<File[]> {
  return new Promise((resolve) => {
    const input = document.createElement('input');
    input.type = 'file';
    input.multiple = true;
    input.accept = 'audio/*,.wav,.flac,.mp3,.ogg,.m4a,.json,.zip';
    // In the document as long as it is open: one that hangs nowhere may be cleared away with its answer.
    input.hidden = true;
    const end = (files: File[]) => {
      input.remove();
      resolve(files);
    };
    input.addEventListener('change', () => end([...(input.files ?? [])]));
    input.addEventListener('cancel', () => end([]));
    document.body.append(input);
    input.click();
  });
}

/** Hands a file over as a download. */
export function saveFile({ name, blob }: NamedFile): void {
  const link = document.createElement('a');
  link.href = URL.createObjectURL(blob);
  link.download = name;
  link.click();
  // The browser reads the address after the press has returned.
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}

/** Choosing a folder to write into (File System Access, WICG); not in every browser. */
type FolderPicker = (options: {
  readonly id: string;
  readonly mode: 'readwrite';
}) => Promise<FileSystemDirectoryHandle>;

const folderPicker = () =>
  (window as { readonly showDirectoryPicker?: FolderPicker }).showDirectoryPicker;

export const canChooseFolder = (): boolean => folderPicker() !== undefined;

/** Lets the user choose a folder to write into; null when the choice is left. */
export async function chooseFolder(): Promise<FileSystemDirectoryHandle | null> {
  try {
    return (await folderPicker()?.({ id: 'pack', mode: 'readwrite' })) ?? null;
  } catch (error) {
    if (error instanceof DOMException && error.name === 'AbortError') return null;
    throw error;
  }
}

const asFile = ({ name, blob }: NamedFile) => new File([blob], name, { type: blob.type });

/** Whether this platform has a sheet to share files of a kind (Web Share, W3C). */
export function canShare(type: 'audio/wav' | 'application/zip'): boolean {
  const name = type === 'audio/wav' ? 'loop.wav' : 'pack.zip';
  const files = [new File([new Uint8Array(1)], name, { type })];
  try {
    return navigator.canShare?.({ files }) ?? false;
  } catch {
    return false;
  }
}

/**
 * Opens the platform's sheet to share files. `left`: it was closed again; `refused`: the platform said no,
 * mostly because the press that asked for it is too long ago.
 */
export async function shareFiles(
  files: readonly NamedFile[],
): Promise<'shared' | 'left' | 'refused'> {
  try {
    await navigator.share({ files: files.map(asFile) });
    return 'shared';
  } catch (error) {
    if (error instanceof DOMException && error.name === 'AbortError') return 'left';
    if (error instanceof DOMException && error.name === 'NotAllowedError') return 'refused';
    throw error;
  }
}

/**
 * Gives a drag a file to carry out of the page: as a true file where the browser takes one, and as a
 * download, which Chromium makes of it on the desktop or in another program's window.
 *
 * @param address of the file's bytes
 */
export function carryOut(transfer: DataTransfer, file: NamedFile, address: string): void {
  transfer.effectAllowed = 'copy';
  // The first colon ends the type, so that one in the name does no harm.
  transfer.setData('DownloadURL', `${file.blob.type}:${file.name}:${address}`);
  transfer.setData('text/uri-list', address);
  try {
    transfer.items.add(asFile(file));
  } catch {
    // Where a page may not add files, the address goes alone.
  }
}
