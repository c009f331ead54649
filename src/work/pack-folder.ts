import type { ZipEntry } from '../../shared/pack/zip-write.ts';

/** How long a worker that was ended may hold on to a file, in milliseconds. */
const holding = 400;

/**
 * Makes a new folder for a pack and tells its name: the wish, or the wish and a number where something bears it. One window
 * at a time: two that looked at once would both find the same name free.
 */
export async function newFolder(folder: FileSystemDirectoryHandle, wish: string): Promise<string> {
  const make = async () => {
    const taken = new Set<string>();
    for await (const name of folder.keys()) taken.add(name.toLowerCase());
    let name = wish;
    for (let n = 2; taken.has(name.toLowerCase()); n++) name = `${wish} ${n}`;
    await folder.getDirectoryHandle(name, { create: true });
    return name;
  };
  const locks = globalThis.navigator?.locks;
  return locks ? locks.request('unclicked names a pack', make) : make();
}

/** Writes the files of a pack as they are made, under `name` instead of the folder that they come in. Each is whole or not there. */
export async function writeInto(
  folder: FileSystemDirectoryHandle,
  name: string,
  entries: Iterable<ZipEntry>,
): Promise<void> {
  for (const entry of entries) {
    const [, ...path] = entry.name.split('/');
    const file = path.pop() ?? '';
    let at = await folder.getDirectoryHandle(name, { create: true });
    for (const part of path) at = await at.getDirectoryHandle(part, { create: true });
    const writing = await (await at.getFileHandle(file, { create: true })).createWritable();
    await writing.write((await entry.bytes()) as Uint8Array<ArrayBuffer>);
    await writing.close();
  }
}

/** Takes away what was written of a pack that will not be whole. */
export async function takeBack(folder: FileSystemDirectoryHandle, name: string): Promise<void> {
  const remove = () => folder.removeEntry(name, { recursive: true });
  await remove().catch(async () => {
    await new Promise((resolve) => setTimeout(resolve, holding));
    // Nothing may have been written yet.
    await remove().catch(() => {});
  });
}
