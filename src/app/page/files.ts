/** Lets the user choose files; none when the list is closed again. */
export function chooseFiles(): Promise<File[]> {
  return new Promise((resolve) => {
    const input = document.createElement('input');
    input.type = 'file';
    input.multiple = true;
    input.accept = 'audio/*,.wav,.flac,.mp3,.ogg,.m4a,.json,.unclicked';
    input.addEventListener('change', () => resolve([...(input.files ?? [])]));
    input.addEventListener('cancel', () => resolve([]));
    input.click();
  });
}

/** Hands a file over as a download. */
export function saveFile(name: string, blob: Blob): void {
  const link = document.createElement('a');
  link.href = URL.createObjectURL(blob);
  link.download = name;
  link.click();
  // The browser reads the address after the press has returned.
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}
