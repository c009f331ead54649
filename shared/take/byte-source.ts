/** Bytes that are read where they are wanted: a file on disk need never be in memory as a whole. */
export interface ByteSource {
  readonly length: number;
  /**
   * Exactly `length` bytes from `at`, which are there. They may be put at the start of `room`, where there
   * is one, and then hold until it is used again: who reads a long file through needs no new memory for each piece.
   */
  readonly read: (at: number, length: number, room?: Uint8Array) => Uint8Array;
}

/** Bytes in memory as a source. */
export function sourceOf(bytes: Uint8Array): ByteSource {
  return { length: bytes.length, read: (at, length) => bytes.subarray(at, at + length) };
}
