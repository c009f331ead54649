import { type Accessor, createMemo, createSignal, onCleanup, untrack } from 'solid-js';
import { createStore, reconcile } from 'solid-js/store';
import type { NamedSlice, Slice } from '../../shared/cut/slice.ts';
import type { SliceNote } from '../../shared/cut/slice-note.ts';
import type { Loudness } from '../../shared/hear/heard.ts';
import type { PitchMoment } from '../../shared/hear/pitch/pitch-track.ts';
import type { Lane } from '../../shared/loop/lane.ts';
import type { Percent, Seconds, Share } from '../../shared/math/units.ts';
import type { Audio } from '../../shared/take/audio.ts';
import type { PitchShift } from '../../shared/warp/pitch.ts';
import { createAutosave, type SaveState } from '../store/autosave.ts';
import { createHold } from '../store/hold.ts';
import { isFull } from '../store/is-full.ts';
import { addLane, nextLaneId } from '../store/lane-commands.ts';
import { type Library, openLibrary, type ProjectCard } from '../store/library.ts';
import { createProjectStore, type ProjectStore } from '../store/project-store.ts';
import type { createSettings } from '../store/settings.ts';
import { makeCutsSweep } from './cuts-sweep.ts';
import { fileBytes } from './file-bytes.ts';
import { makeHandingOver } from './handing-over.ts';
import { isAbort } from './job-client.ts';
import { createLiveBeats } from './live-beats.ts';
import { createLiveLoop } from './live-loop.ts';
import { createLiveStems } from './live-stems.ts';
import { type SuggestedLane, suggestFlip, suggestStraight } from './make-lane.ts';
import { createOneWork } from './one-work.ts';
import type { FilesAtHand } from './open-take.ts';
import { keptAs, makeOpening } from './opening.ts';
import { makePitches } from './pitches.ts';
import { makeSliceNotes } from './slice-notes.ts';
import { createWorkerLine } from './workers.ts';

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
  /** Another window has the project: here it can be looked at and heard, not changed. */
  readonly elsewhere: Accessor<boolean>;
  /** Changes that were refused for that reason. */
  readonly refused: Accessor<number>;
  /** Has the project from the other window, with all that was done there as one step that can be undone. */
  readonly takeOver: () => void;
  /** Says how to end what is being played in: it is kept when another window takes the project over. */
  readonly beforeGiving: (end: () => void) => void;
  /** Saves what waits, now. */
  readonly saveNow: () => Promise<void>;

  /** Opens a recording (the first file that is one, or the longest), further ones as its stems; or a saved project. */
  readonly openFiles: (files: readonly File[]) => Promise<void>;
  readonly openDemo: () => Promise<void>;
  /** The desk's own cancel; `doing` holds the same. */
  readonly cancel: () => void;
  readonly openProject: (id: string) => Promise<void>;
  /** The project that was open last, if there is one. */
  readonly openLast: () => Promise<void>;
  readonly addStems: (files: readonly File[]) => Promise<void>;

  readonly projects: Accessor<readonly ProjectCard[]>;
  /** Deleted within a day: `restoreProject` brings them back. */
  readonly deleted: Accessor<readonly ProjectCard[]>;
  /** Reads both lists anew: another window may have changed them. */
  readonly lookAtProjects: () => void;
  readonly duplicateProject: (id: string) => Promise<void>;
  /** Takes a project off the list; `restoreProject` undoes it. False where the browser refused. */
  readonly removeProject: (id: string) => Promise<boolean>;
  readonly restoreProject: (id: string) => Promise<void>;

  /** Fewer or more cuts, live: call it at each movement of the control, `done` at its end. One undo step. */
  readonly sweepCuts: (cuts: Percent, done?: boolean) => void;
  /** A straight loop of a stretch of the take, snapped to beats, at its own rounded median tempo; shows the new lane and returns its name. */
  readonly makeStraight: (from: Seconds, until: Seconds) => string | null;
  /** A flip that begins with these slices as they were played; with none, an empty one. Shows the new lane. */
  readonly makeFlip: (slices: readonly string[]) => string | null;

  /** The lane's loop as a WAV file, stems each in a file of its own when asked. */
  readonly saveLoop: (lane: string, options: SaveOptions) => Promise<readonly NamedFile[]>;
  /** The loop that is heard, as the file that `saveLoop` would make of its mix, without a word about it; null while there is none. */
  readonly loopFile: (signal: AbortSignal) => Promise<NamedFile | null>;
  /** Everything that is handed over, in one zip. */
  readonly savePack: () => Promise<NamedFile | null>;
  /** The same as a new folder in a folder of the disk; its name. Given up, it is taken away again. */
  readonly packInto: (folder: FileSystemDirectoryHandle) => Promise<string | null>;
  /** The document and its recordings in one file, to be opened on another machine or by the command. */
  readonly saveProject: () => Promise<NamedFile | null>;
  /** A slice with its pitch moved, its length kept; null when cancelled. For pads whose pitch is moved. */
  readonly pitchSlice: (slice: Slice, shift: PitchShift) => Promise<TakeSound | null>;
  /** Which note each slice plays; null where there is no single one. */
  readonly hearNotes: (slices: readonly NamedSlice[]) => Promise<readonly (SliceNote | null)[]>;
  /** The pitch of the take (null) or of a stem by its hash over a stretch of time. */
  readonly trackPitch: (
    signal: AbortSignal,
    stem: string | null,
    from: Seconds,
    until: Seconds,
  ) => Promise<readonly PitchMoment[]>;
}

/** A take's or a slice's samples: the mix, and stems by hash, all of one length. */
export interface TakeSound {
  readonly mix: Audio;
  readonly stems: readonly StemSound[];
}

export interface StemSound {
  readonly hash: string;
  readonly label: string;
  readonly audio: Audio;
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
  /** The verdict on the seam, in words: "quiet, 8.4 dB step where 9.1 is usual". */
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

/** The rest is as the project wishes its pack. */
export interface SaveOptions {
  readonly stems: boolean;
}

export interface NamedFile {
  readonly name: string;
  readonly blob: Blob;
}

const full =
  'The browser has no more room to keep projects; delete one, or save the project elsewhere first.';

/**
 * Sets up the desk; everything ends with the owner.
 *
 * @param settings remembers which project was open last
 */
export function createDesk(settings: ReturnType<typeof createSettings>): Desk {
  const [refused, setRefused] = createSignal(0);
  /** The project that is this window's again, until what another has done to it is here: an edit would come too early. */
  const [behind, setBehind] = createSignal<string | null>(null);
  const elsewhere = () => {
    const id = behind();
    return holding?.hold() === 'elsewhere' || (id !== null && id === openId());
  };
  const refuse = () => {
    const no = untrack(elsewhere);
    if (no) setRefused((n) => n + 1);
    return no;
  };
  const store = createProjectStore(undefined, refuse);
  const [sound, setSound] = createSignal<TakeSound | null>(null);
  const [problem, setProblem] = createSignal<string | null>(null);
  /** Looked at again and again: what is the same stays as it lies, and keeps the focus. */
  const [lists, setLists] = createStore<{ kept: ProjectCard[]; removed: ProjectCard[] }>({
    kept: [],
    removed: [],
  });
  const projects = () => lists.kept;
  const deleted = () => lists.removed;
  const [library, setLibrary] = createSignal<Library | null | undefined>(undefined);

  const tell = (error: unknown) => {
    if (isAbort(error)) return;
    if (isFull(error)) setProblem(full);
    else setProblem(error instanceof Error ? error.message : String(error));
  };
  const atHand: FilesAtHand = new Map();
  /** The browser has cleared what it kept: what is open is kept once more, as far as it is still here. */
  const keepAgain = async () => {
    const project = untrack(store.project);
    const opened = await shelf;
    if (!project) return;
    const gone: string[] = [];
    for (const { hash, name } of [project.take, ...project.stems]) {
      const blob = atHand.get(hash);
      if (blob) await opened?.putAudio(await fileBytes(blob, name), hash);
      else gone.push(name);
    }
    // What another window has done it keeps itself; here it is not known.
    const now = untrack(store.project);
    if (now && !untrack(elsewhere)) await opened?.save(now);
    await refresh();
    if (gone.length > 0)
      setProblem(
        `The browser has cleared what it kept for this page, ${gone.join(' and ')} too; before you leave, open the same file again so that it is kept.`,
      );
  };
  const lost = () => void keepAgain().catch(tell);
  const shelf: Promise<Library | null> = openLibrary('unclicked', Date.now, lost).then(
    (opened) => {
      setLibrary(opened);
      void opened.collect().catch(() => {});
      return opened;
    },
    // A browser that keeps nothing still works; it only forgets.
    () => setLibrary(null),
  );
  const refresh = async () => {
    const opened = await shelf;
    const found = { kept: (await opened?.list()) ?? [], removed: (await opened?.removed()) ?? [] };
    setLists(reconcile(found, { key: 'id' }));
  };
  void refresh();

  const takeJobs = () => {
    const now = untrack(sound);
    if (!now) return [];
    const stems = now.stems.map((stem) => stem.audio);
    return [{ job: 'keepTake' as const, input: { mix: now.mix, stems } }];
  };
  const hearing = createWorkerLine({
    prime: () => {
      const evidence = untrack(store.heard)?.evidence;
      const keep = evidence ? [{ job: 'keepEvidence' as const, input: evidence }] : [];
      return [...takeJobs(), ...keep];
    },
  });
  const rendering = createWorkerLine({ prime: takeJobs });
  const lines = { hearing, rendering };
  onCleanup(() => {
    hearing.end();
    rendering.end();
    void shelf.then((opened) => opened?.close());
  });

  let endPlaying = () => {};
  const openId = createMemo(() => store.project()?.id ?? null);
  const holding = createHold(openId, {
    give: () => {
      endPlaying();
      store.settle();
      return autosave.flush();
    },
    gained: () => void catchUp().catch(tell),
  });
  const { hold } = holding;
  const autosave = createAutosave(store.project, library, hold);
  /** What another window has done to the open project is one more step here, so that none of the steps before it is lost. */
  const catchUp = async () => {
    const id = untrack(openId);
    setBehind(id);
    try {
      const { copy } = await autosave.leave();
      const kept = id && (await (await shelf)?.load(id))?.project;
      if (!kept || untrack(openId) !== id || untrack(hold) !== 'mine') return;
      autosave.goOnFrom(kept);
      setBehind(null);
      if (kept.changed !== untrack(store.project)?.changed)
        store.edit({ label: "the other window's work", apply: () => kept });
      if (copy) setProblem(keptAs(copy));
    } finally {
      setBehind((now) => (now === id ? null : now));
    }
  };
  const beats = createLiveBeats(store, hearing, tell);
  const live = createLiveLoop(store, sound, rendering, tell);
  const oneWork = createOneWork(tell, () => setProblem(null));
  const { work } = oneWork;
  const putSound = (next: TakeSound | null) => {
    // The workers start afresh, with the new take. First: what is asked of them for it may be asked at once.
    hearing.end();
    rendering.end();
    setSound(next);
  };
  const opening = makeOpening({
    store,
    shelf,
    lines,
    work,
    sound,
    atHand,
    setProblem,
    settings,
    refresh,
    leave: autosave.leave,
    save: autosave.flush,
    refuse,
    tell,
    note: (more) => setProblem((now) => (now ? `${now} ${more}` : more)),
    putSound,
  });
  createLiveStems(store, sound, putSound, shelf, hearing, tell);
  /** Does something to what is kept, and shows the list anew; false, and said, where that failed. */
  const onShelf = async (run: (opened: Library) => Promise<unknown>): Promise<boolean> => {
    try {
      const opened = await shelf;
      if (opened) await run(opened);
      await refresh();
      return true;
    } catch (error) {
      // Here nobody changes their mind: the browser has broken off what it did.
      tell(isAbort(error) ? new Error('The browser has broken it off; try it again.') : error);
      return false;
    }
  };

  /** Adds a lane and brings it into view. */
  const showLane = ({ source, settings: values }: SuggestedLane): string | null => {
    const project = untrack(store.project);
    if (!project) return null;
    const id = nextLaneId(project);
    store.edit(addLane(source, values));
    store.setSession({ lane: id });
    return id;
  };
  const knownBeats = () => untrack(store.heard)?.beats ?? [];

  return {
    store,
    sound,
    loop: live.loop,
    rendering: live.rendering,
    inferring: beats.inferring,
    doing: oneWork.doing,
    cancel: oneWork.cancel,
    problem,
    setProblem,
    saving: autosave.state,
    elsewhere: createMemo(elsewhere),
    refused,
    takeOver: holding.take,
    beforeGiving: (end) => {
      endPlaying = end;
    },
    saveNow: autosave.flush,
    projects,
    deleted,
    lookAtProjects: () => void refresh().catch(tell),
    openFiles: opening.openFiles,
    openDemo: opening.openDemo,
    // What is open and this window's own is the newest there is.
    openProject: async (id) => {
      const here = untrack(openId) === id && untrack(hold) === 'mine' && untrack(store.heard);
      if (!here) await opening.openProject(id);
    },
    openLast: opening.openLast,
    addStems: opening.addStems,
    duplicateProject: async (id) => {
      if (untrack(store.project)?.id === id) await autosave.flush();
      await onShelf((opened) => opened.duplicate(id));
    },
    removeProject: async (id) => {
      // It can be brought back as it was at the end.
      if (untrack(openId) === id) await autosave.flush();
      return onShelf(async (opened) => {
        await opened.remove(id);
        if (untrack(openId) !== id) return;
        autosave.forget();
        oneWork.cancel();
        opening.clear();
      });
    },
    restoreProject: async (id) => void (await onShelf((opened) => opened.restore(id))),
    sweepCuts: makeCutsSweep(store, hearing, tell),
    makeStraight: (from, until) => {
      const suggested = suggestStraight(knownBeats(), from, until);
      if (suggested) return showLane(suggested);
      setProblem('No beats are known there; tap along with the take, then make the loop.');
      return null;
    },
    makeFlip: (ids) => {
      const slices = untrack(store.project)?.slices.filter((slice) => ids.includes(slice.id)) ?? [];
      const empty: SuggestedLane = { source: { kind: 'flip', placements: [] }, settings: {} };
      return showLane(suggestFlip(knownBeats(), slices) ?? empty);
    },
    ...makeHandingOver({ store, sound, live, shelf, line: rendering, work, atHand }),
    pitchSlice: makePitches(rendering, sound, tell),
    hearNotes: makeSliceNotes(rendering, sound),
    trackPitch: async (signal, stem, from, until) => {
      const at = untrack(sound)?.stems.findIndex((one) => one.hash === stem) ?? -1;
      return rendering.jobs.track(signal, { part: at < 0 ? null : at, from, until });
    },
  };
}
