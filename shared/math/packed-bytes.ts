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

/** Rows of weights that are kept as signed bytes, in units of a step that each row has of its own. */
export function packedRows(
  bytes: Int8Array,
  steps: readonly number[],
  kernel: Kernels | null = kernels(),
): Float64Array {
  const n = bytes.length / steps.length;
  if (!kernel) return Float64Array.from(bytes, (byte, i) => byte * steps[Math.floor(i / n)]);
  const room = new KernelRoom(kernel);
  const given = room.keepBytes(bytes);
  const sizes = room.keepDoubles(steps);
  const out = room.place(bytes.length * 8);
  kernel.scaled(given, steps.length, n, sizes, out);
  return room.doubles(out, bytes.length).slice();
}
