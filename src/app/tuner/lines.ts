import type { Phrase } from '../../../shared/hear/heard.ts';
import type { Seconds } from '../../../shared/math/units.ts';

/** A stretch of time set as one line of the tuner. */
export interface TunerLine {
  readonly from: Seconds;
  readonly until: Seconds;
  /** What stands before it: the number of its phrase, as on the sheet; empty where that goes on. */
  readonly label: string;
}

/** A line is never longer than this; a phrase that is goes on in the next. */
const longest: Seconds = 20;

/** Sets a stretch as lines, one a phrase, and what lies between phrases with the one before it. */
export function tunerLines(
  phrases: readonly Phrase[],
  from: Seconds,
  until: Seconds,
): readonly TunerLine[] {
  const starts = phrases.map(({ start }, i) => ({ at: start, label: String(i + 1) }));
  const inside = starts.filter(({ at }) => at > from && at < until);
  const before = starts.findLast(({ at }) => at <= from);
  const marks = [{ at: from, label: before?.label ?? '' }, ...inside];
  return marks.flatMap(({ at, label }, i) => {
    const end = marks[i + 1]?.at ?? until;
    const parts = Math.max(1, Math.ceil((end - at) / longest));
    const step = (end - at) / parts;
    return Array.from({ length: parts }, (_, k) => ({
      from: at + k * step,
      until: k === parts - 1 ? end : at + (k + 1) * step,
      label: k === 0 ? label : '',
    }));
  });
}

/** The time that all lines have room for. */
export function lineSpan(lines: readonly TunerLine[]): Seconds {
  return Math.max(0.5, ...lines.map((line) => line.until - line.from));
}
