import type { Fix } from '../../shared/hear/heard.ts';
import { InputError } from '../../shared/math/input-error.ts';
import type { Seconds } from '../../shared/math/units.ts';

function isMoment(value: unknown): value is number {
  return typeof value === 'number' && Number.isFinite(value) && value >= 0;
}

function isObject(value: unknown): value is Record<string, unknown> {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

/** One correction, or null where the object is none. Unknown keys are passed over. */
function readFix(item: Record<string, unknown>): Fix | null {
  if (isMoment(item.beat))
    return item.by === 'tapped' || item.by === 'moved'
      ? { beat: item.beat, by: item.by }
      : { beat: item.beat };
  if (isMoment(item.notBeat)) return { notBeat: item.notBeat };
  if (isMoment(item.one)) return { one: item.one };
  if (isMoment(item.free)) return { free: item.free };
  const from = isMoment(item.from) ? { from: item.from } : {};
  const keep = isMoment(item.keep) ? { keep: item.keep } : {};
  if (item.shift === 'half' || item.shift === 'bar') return { shift: item.shift, ...from };
  if (item.level === 'double' || item.level === 'half')
    return { level: item.level, ...from, ...keep };
  return null;
}

/** A beat may be set where it would come after the sound is over; much later a time is no second of the take. */
const after: Seconds = 10;

/** Throws InputError where a fix lies far behind the take's end: its times are milliseconds then, or samples. */
export function checkFixes(fixes: readonly Fix[], seconds: Seconds, name = ''): void {
  fixes.forEach((fix, i) => {
    const latest = Math.max(...Object.values(fix).filter((value) => typeof value === 'number'));
    if (latest > seconds + after)
      throw new InputError(
        `Fix ${i} of ${name} is at ${latest} s, and the take ends at ${seconds.toFixed(2)} s; give times in seconds of the take.`,
      );
  });
}

/**
 * The user's corrections, `{ "fixes": [ { "beat": 12.31 }, ... ] }`, in their order. Throws InputError
 * naming the first that makes no sense: a fix that is passed over in silence would be worse.
 *
 * @param name what the messages call the file
 */
export function readFixes(json: unknown, name: string): Fix[] {
  if (!isObject(json) || !Array.isArray(json.fixes))
    throw new InputError(
      `${name} has no list "fixes"; write { "fixes": [ { "beat": seconds } ] }.`,
    );
  return json.fixes.map((item: unknown, i) => {
    const fix = isObject(item) ? readFix(item) : null;
    if (!fix)
      throw new InputError(
        `Fix ${i} of ${name} makes no sense; write one of "beat", "notBeat" or "one" with seconds from 0.`,
      );
    return fix;
  });
}
