import { afterEach, describe, expect, it, vi } from 'vitest';
import { newFolder } from '../../src/work/pack-folder.ts';
import { fakeLocks } from './fake-locks.ts';

/** A folder of the disk (File System, WHATWG) that answers a little later, as all do. */
function folderOf(...names: string[]) {
  const held = new Set(names);
  return {
    held,
    handle: {
      async *keys() {
        for (const name of [...held]) yield name;
      },
      async getDirectoryHandle(name: string) {
        held.add(name);
        return {};
      },
    } as unknown as FileSystemDirectoryHandle,
  };
}

afterEach(() => vi.unstubAllGlobals());

describe('the folder of a pack', () => {
  it('bears the name that was wished for, or with a number where something bears it in any case of letters', async () => {
    const { held, handle } = folderOf('ebb pack', 'Ebb pack 2', 'other');
    expect(await newFolder(handle, 'Ebb pack')).toBe('Ebb pack 3');
    expect(await newFolder(handle, 'Flood pack')).toBe('Flood pack');
    expect([...held].slice(3)).toEqual(['Ebb pack 3', 'Flood pack']);
  });

  it("is each window's own, though two look for a name at once", async () => {
    vi.stubGlobal('navigator', { locks: fakeLocks() });
    const { held, handle } = folderOf();
    const names = await Promise.all([1, 2, 3].map(() => newFolder(handle, 'Ebb pack')));
    expect(names).toEqual(['Ebb pack', 'Ebb pack 2', 'Ebb pack 3']);
    expect(held.size).toBe(3);
  });
});
