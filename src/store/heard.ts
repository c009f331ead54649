import type { HeardTake } from '../../shared/cut/hear-take.ts';
import type { Peaks } from '../../shared/take/peaks.ts';

/**
 * What was heard in the samples, kept beside the document: it can always be heard again, so it is
 * neither part of the file nor undone. `beats` already hold every fix.
 */
export interface Heard extends HeardTake {
  readonly peaks: Peaks;
}
