import { InputError } from '../../shared/math/input-error.ts';
import type { Seconds } from '../../shared/math/units.ts';
import { type Anchor, makeTimeMap, type TimeMap } from '../../shared/time/time-map.ts';

/** Longer than this no output fits the memory of one process. */
const longest: Seconds = 12 * 3600;

/**
 * A map from a file's time to another: `{ "anchors": [ { "from": 0.51, "to": 0.5 } ], "seconds": 20 }`.
 * Throws InputError where it is none, goes backwards, or has no length.
 *
 * @param name what the messages call the file
 */
export function readMap(json: unknown, name: string): { map: TimeMap; seconds: Seconds } {
  const { anchors, seconds } = (json ?? {}) as { anchors?: unknown; seconds?: unknown };
  if (!Array.isArray(anchors))
    throw new InputError(
      `${name} has no list "anchors"; write { "anchors": [ { "from": s, "to": s } ], "seconds": s }.`,
    );
  if (typeof seconds !== 'number' || !(seconds > 0 && seconds <= longest))
    throw new InputError(
      `${name} has no "seconds" above 0 and up to ${longest}; give the length of the output.`,
    );
  const pairs = anchors.map((anchor: unknown): Anchor => {
    const { from, to } = (anchor ?? {}) as { from?: unknown; to?: unknown };
    return {
      from: typeof from === 'number' ? from : Number.NaN,
      to: typeof to === 'number' ? to : Number.NaN,
    };
  });
  try {
    return { map: makeTimeMap(pairs), seconds };
  } catch (error) {
    throw error instanceof InputError ? new InputError(`In ${name}: ${error.message}`) : error;
  }
}
