import { fromBase64 } from './base64.ts';
import { KernelRoom, type Kernels, kernels } from './kernel.ts';

/** Signed bytes that are kept as base 64 (RFC 4648, section 4). */
export function packedBytes(text: string, kernel: Kernels | null = kernels()): Int8Array {
  if (!kernel) return new Int8Array(fromBase64(text).buffer);
  const room = new KernelRoom(kernel);
  const digits = room.place(text.length);
  const bytes = room.place((text.length / 4) * 3);
  new TextEncoder().encodeInto(text, room.bytes(digits, text.length));
  kernel.unpacked(digits, text.length, bytes);
  const filling = text.endsWith('==') ? 2 : text.endsWith('=') ? 1 : 0;
  return new Int8Array(room.bytes(bytes, (text.length / 4) * 3 - filling).slice().buffer);
}
