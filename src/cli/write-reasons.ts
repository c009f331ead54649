/** Besides the system's own. */
export const noPlainFile = 'no plain file';

const reasons: Readonly<Record<string, string>> = {
  ENOENT: 'its folder does not exist; make it first',
  ENOTDIR: 'a part of its path is no folder; choose another place',
  EISDIR: 'it is a folder; name a file',
  [noPlainFile]: 'it is a device or a pipe; name a file',
  ENAMETOOLONG: 'its name is too long; choose a shorter one',
  EACCES: 'you may not write there; choose another place or change its permissions',
  EPERM: 'you may not write there; choose another place or change its permissions',
  EROFS: 'that disk is read-only; choose another place',
  ENOSPC: 'the disk is full; make room',
};

/** What the system says of a place that it can't write to, in one sentence with what to do. */
export function cannotWrite(path: string, error: unknown): Error {
  const { code, message } = error as NodeJS.ErrnoException;
  return new Error(`${path} can't be written: ${reasons[code ?? ''] ?? message}.`);
}
