import { InputError } from '../../shared/math/input-error.ts';

/** From here on browsers refuse to read a file at once (Chromium, 2 GiB). */
const large = 2 ** 31;

/**
 * A file's bytes. Throws InputError where it has been moved or changed since it was chosen, is no file, or is larger
 * than the browser reads.
 */
export async function fileBytes(blob: Blob, name: string): Promise<Uint8Array<ArrayBuffer>> {
  try {
    return new Uint8Array(await blob.arrayBuffer());
  } catch {
    const why =
      blob.size >= large
        ? 'it is larger than this browser reads at once; export it in parts'
        : 'look whether it is still where it was, then open it again';
    throw new InputError(`${name} can't be read: ${why}.`);
  }
}
