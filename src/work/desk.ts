import type { Accessor } from 'solid-js';
import type { Slice } from '../../shared/cut/slice.ts';
import type { Loudness } from '../../shared/hear/heard.ts';
import type { Lane } from '../../shared/loop/lane.ts';
import type { Percent, Seconds, Share } from '../../shared/math/units.ts';
import type { Audio } from '../../shared/take/audio.ts';
import type { WavBits } from '../../shared/take/wav-write.ts';
import type { SaveState } from '../store/autosave.ts';
import type { ProjectCard } from '../store/library.ts';
import type { ProjectStore } from '../store/project-store.ts';

/**
 * Where the work is done: the open project, the worker that hears and renders it, and the library that
 * keeps it, as one thing for the page. Whatever takes time shows in `doing` and can be cancelled;
 * whatever fails ends as a sentence in `problem`. What follows from the document by itself (beats after
 * a fix, the rendered loop after an edit) is worked out again without being asked.
 */
export interface Desk {
  readonly store: ProjectStore;
  /** The samples of the open take; null while none is loaded. */
  readonly sound: Accessor<TakeSound | null>;
  /** The loop of the lane in view, as it sounds; null until it is rendered, or when nothing is on the lane. */
  readonly loop: Accessor<Loop | null>;
  /** Whether `loop` is behind the document and a newer one is being rendered. */
  readonly rendering: Accessor<boolean>;
  /** Whether beats are being inferred again after a fix. */
  readonly inferring: Accessor<boolean>;
  readonly doing: Accessor<Doing | null>;
  /** What went wrong, in one sentence with what to do; null: nothing. */
  readonly problem: Accessor<string | null>;
  readonly setProblem: (sentence: string | null) => void;
  readonly saving: Accessor<SaveState>;
  /** Saves what waits, now. */
  readonly saveNow: () => Promise<void>;

  /** Opens a recording (the first file that is one, or the longest), further ones as its stems; or a project file. */
  readonly openFiles: (files: readonly File[]) => Promise<void>;
  readonly openDemo: () => Promise<void>;
  readonly openProject: (id: string) => Promise<void>;
  /** The project that was open last, if there is one. */
  readonly openLast: () => Promise<void>;
  readonly closeProject: () => Promise<void>;
  readonly addStems: (files: readonly File[]) => Promise<void>;

  readonly projects: Accessor<readonly ProjectCard[]>;
  readonly duplicateProject: (id: string) => Promise<void>;
  /** Takes a project off the list; `restoreProject` undoes it. */
  readonly removeProject: (id: string) => Promise<void>;
  readonly restoreProject: (id: string) => Promise<void>;

  /** Fewer or more cuts, live: call it at each movement of the control, `done` at its end. One undo step. */
  readonly sweepCuts: (cuts: Percent, done?: boolean) => void;
  /** A straight loop of a stretch of the take, snapped to beats, at its own rounded median tempo; shows the new lane. */
  readonly makeStraight: (from: Seconds, until: Seconds) => string | null;

  /** The lane's loop as a WAV file, stems each in a file of its own when asked. */
  readonly saveLoop: (lane: string, options: SaveOptions) => Promise<readonly NamedFile[]>;
  /** Everything that is handed over, in one zip. */
  readonly savePack: () => Promise<NamedFile | null>;
  /** The document as a file. */
  readonly saveProject: () => NamedFile | null;
  /** A slice with its pitch moved, its length kept; null when cancelled. For pads whose pitch is moved. */
  readonly pitchSlice: (
    slice: Slice,
    semitones: number,
    cents: number,
  ) => Promise<TakeSound | null>;
}

/** A take's or a slice's samples: the mix, and stems by hash, all of one length. */
export interface TakeSound {
  readonly mix: Audio;
  readonly stems: readonly {
    readonly hash: string;
    readonly label: string;
    readonly audio: Audio;
  }[];
}

/** A rendered lane. */
export interface Loop extends TakeSound {
  /** The lane as it was rendered. */
  readonly lane: Lane;
  readonly loudness: Loudness;
  /** Loudness of the stretch of the take that it is compared with. */
  readonly original: {
    readonly from: Seconds;
    readonly until: Seconds;
    readonly loudness: Loudness;
  };
  /** The verdict on the seam, in words: "quiet, 0.4 dB step". */
  readonly seam: string;
  /** Where each attack falls, in the loop's seconds, and how far from its grid point. */
  readonly attacks: readonly {
    readonly at: Seconds;
    readonly off: Seconds;
    readonly placement: string | null;
  }[];
}

export interface Doing {
  /** "hearing beats" */
  readonly what: string;
  readonly share: Share;
  readonly cancel: () => void;
}

export interface SaveOptions {
  readonly bits: WavBits;
  readonly stems: boolean;
}

export interface NamedFile {
  readonly name: string;
  readonly blob: Blob;
}
