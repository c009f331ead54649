import type { Beat, Key, Loudness, Onset, Phrase, Tuning } from '../../shared/hear/heard.ts';
import type { LevelCurve } from '../../shared/take/levels.ts';
import type { Peaks } from '../../shared/take/peaks.ts';

/**
 * What was heard in the samples, kept beside the document: it can always be heard again, so it is
 * never saved and never undone. `beats` already hold every fix.
 */
export interface Heard {
  readonly onsets: readonly Onset[];
  readonly beats: readonly Beat[];
  readonly phrases: readonly Phrase[];
  readonly tuning: Tuning;
  readonly key: Key;
  readonly loudness: Loudness;
  readonly levels: LevelCurve;
  readonly peaks: Peaks;
}
