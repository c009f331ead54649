import type { Seconds } from '../../shared/math/units.ts';
import type { PadPlace } from './pad-commands.ts';

/** What the sentence speaks of. Names of things that are gone are simply not found. */
export type Selection =
  | { readonly kind: 'nothing' }
  | { readonly kind: 'slices'; readonly ids: readonly string[] }
  | { readonly kind: 'pads'; readonly places: readonly PadPlace[] }
  | { readonly kind: 'placements'; readonly lane: string; readonly ids: readonly string[] }
  | { readonly kind: 'phrases'; readonly indexes: readonly number[] }
  | { readonly kind: 'beat'; readonly time: Seconds };

/** What is seen and played just now. It belongs to this window: never saved, never undone. */
export interface Session {
  readonly selection: Selection;
  /** The lane in view; null: the first. */
  readonly lane: string | null;
  /** The first moment of the take in view on the sheet. */
  readonly scroll: Seconds;
  /** Width of the sheet in seconds when all lines share one scale. */
  readonly zoom: Seconds;
  /** One time scale for all lines, or each filling the width. */
  readonly lines: 'one scale' | 'full width';
  /** Stems by hash. A solo silences what isn't solo. */
  readonly muted: readonly string[];
  readonly solo: readonly string[];
}

export const freshSession: Session = {
  selection: { kind: 'nothing' },
  lane: null,
  scroll: 0,
  zoom: 12,
  lines: 'one scale',
  muted: [],
  solo: [],
};
