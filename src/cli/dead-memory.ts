import { setFlagsFromString } from 'node:v8';
import { runInNewContext } from 'node:vm';

/** Dead arrays are cleared away once so many bytes have come to be. */
const mayGrow = 4 * 2 ** 20;

/**
 * What it returns is called now and then in long work, and clears dead arrays away where they have grown. The
 * engine's arrays lie outside the heap that V8 watches, so it lets some 64 MiB of dead ones stand, on top of
 * what a long take needs.
 */
export function watchDeadMemory(): () => void {
  const collect = collector();
  const held = () => process.memoryUsage().arrayBuffers;
  collect();
  let left = held();
  return () => {
    const now = held();
    if (now < left + mayGrow) {
      left = Math.min(left, now);
      return;
    }
    collect();
    left = held();
  };
}

/** V8's own collection, which it hands out to a context made after it was asked to; else nothing. */
function collector(): () => void {
  try {
    setFlagsFromString('--expose-gc');
    const collect: unknown = runInNewContext('gc');
    return typeof collect === 'function' ? () => collect() : () => {};
  } catch {
    return () => {};
  }
}
