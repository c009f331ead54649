import { createStore } from 'solid-js/store';
import * as v from 'valibot';
import type { Decibels, Seconds } from '../../shared/math/units.ts';

/** What this browser remembers about its user, whatever project is open. */
export interface Settings {
  /** Listening level; playback starts quiet, and only the user's own hand makes it louder. */
  readonly level: Decibels;
  /** Whether the note about listening levels has been read. */
  readonly hearingNoteRead: boolean;
  /** How late a tap arrives after what was heard; null until it was measured. */
  readonly latency: Seconds | null;
  readonly theme: 'as the system' | 'light' | 'dark';
  /** The project that was open last. */
  readonly project: string | null;
}

const quietStart: Decibels = -18;

const plain: Settings = {
  level: quietStart,
  hearingNoteRead: false,
  latency: null,
  theme: 'as the system',
  project: null,
};

const schema = v.object({
  level: v.fallback(v.pipe(v.number(), v.minValue(-60), v.maxValue(0)), quietStart),
  hearingNoteRead: v.fallback(v.boolean(), false),
  latency: v.fallback(v.nullable(v.pipe(v.number(), v.minValue(-0.2), v.maxValue(1))), null),
  theme: v.fallback(v.picklist(['as the system', 'light', 'dark']), 'as the system'),
  project: v.fallback(v.nullable(v.string()), null),
});

const place = 'unclicked.settings';

function stored(): Settings {
  try {
    return v.parse(schema, JSON.parse(localStorage.getItem(place) ?? '{}'));
  } catch {
    return plain;
  }
}

/** The settings as a store, and how to change them. Where nothing may be stored they last as long as the page. */
export function createSettings(): {
  readonly settings: Settings;
  readonly change: (patch: Partial<Settings>) => void;
} {
  const [settings, set] = createStore<Settings>(stored());
  return {
    settings,
    change: (patch) => {
      set(patch);
      try {
        // What another window has changed meanwhile stays.
        localStorage.setItem(place, JSON.stringify({ ...stored(), ...patch }));
      } catch {
        // A browser that forbids storing still works; it only forgets.
      }
    },
  };
}
