import { type Accessor, createSignal, onCleanup, untrack } from 'solid-js';
import { slicesOf } from '../../shared/cut/hear-take.ts';
import type { Slice } from '../../shared/cut/slice.ts';
import type { Loudness } from '../../shared/hear/heard.ts';
import type { Lane } from '../../shared/loop/lane.ts';
import { InputError } from '../../shared/math/input-error.ts';
import type { Percent, Seconds, Share } from '../../shared/math/units.ts';
import type { Audio } from '../../shared/take/audio.ts';
import type { WavBits } from '../../shared/take/wav-write.ts';
import { askToKeep, createAutosave, isFull, type SaveState } from '../store/autosave.ts';
import type { Heard } from '../store/heard.ts';
import { addLane, nextLaneId } from '../store/lane-commands.ts';
import { type Library, openLibrary, type ProjectCard } from '../store/library.ts';
import { fillRow, padsInRow } from '../store/pad-commands.ts';
import type { Project } from '../store/project.ts';
import { addStems as addStemFiles } from '../store/project-commands.ts';
import { parseProject, writeProject } from '../store/project-file.ts';
import { createProjectStore, type Gesture, type ProjectStore } from '../store/project-store.ts';
import type { createSettings } from '../store/settings.ts';
import { setCuts } from '../store/slice-commands.ts';
import { isAbort } from './job-client.ts';
import { createLiveBeats } from './live-beats.ts';
import { createLiveLoop, renderInput, renderLoop } from './live-loop.ts';
import { type SuggestedLane, suggestFlip, suggestStraight } from './make-lane.ts';
import {
  chooseTake,
  fitStem,
  freshProject,
  type ReadFile,
  type RecordingFile,
  readFiles,
  readStored,
  stemFile,
  takeSound,
} from './open-take.ts';
import { fileName, saveLoop } from './save-loop.ts';
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
  /** Saves what waits, now. */
  readonly saveNow: () => Promise<void>;

  /** Opens a recording (the first file that is one, or the longest), further ones as its stems; or a project file. */
  readonly openFiles: (files: readonly File[]) => Promise<void>;
  readonly openDemo: () => Promise<void>;
  /** The desk's own cancel; `doing` holds the same. */
  readonly cancel: () => void;
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
  /** A straight loop of a stretch of the take, snapped to beats, at its own rounded median tempo; shows the new lane and returns its name. */
  readonly makeStraight: (from: Seconds, until: Seconds) => string | null;
  /** A flip that begins with these slices as they were played; with none, an empty one. Shows the new lane. */
  readonly makeFlip: (slices: readonly string[]) => string | null;

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

/** What was heard is kept under this name beside a recording's hash; a new number when hearing changes. */
const hearing = 'heard 1';

/**
 * Sets up the desk; everything ends with the owner.
 *
 * @param settings remembers which project was open last
 */
export function createDesk(settings: ReturnType<typeof createSettings>): Desk {
  const store = createProjectStore();
  const [sound, setSound] = createSignal<TakeSound | null>(null);
  const [doing, setDoing] = createSignal<Doing | null>(null);
  const [problem, setProblem] = createSignal<string | null>(null);
  const [projects, setProjects] = createSignal<readonly ProjectCard[]>([]);
  const [library, setLibrary] = createSignal<Library | null>(null);

  const tell = (error: unknown) => {
    if (isAbort(error)) return;
    if (isFull(error)) setProblem(full);
    else setProblem(error instanceof Error ? error.message : String(error));
  };
  const opening = openLibrary().then(
    (shelf) => {
      setLibrary(shelf);
      void shelf.collect().catch(() => {});
      return shelf;
    },
    () => null,
  );
  const refresh = async () => setProjects((await (await opening)?.list()) ?? []);
  void refresh();

  const takeJobs = () => {
    const now = untrack(sound);
    return now
      ? [
          {
            job: 'keepTake' as const,
            input: { mix: now.mix, stems: now.stems.map((s) => s.audio) },
          },
        ]
      : [];
  };
  const hearLine = createWorkerLine({
    prime: () => {
      const evidence = untrack(store.heard)?.evidence;
      return [
        ...takeJobs(),
        ...(evidence ? [{ job: 'keepEvidence' as const, input: evidence }] : []),
      ];
    },
  });
  const renderLine = createWorkerLine({ prime: takeJobs });
  onCleanup(() => {
    hearLine.end();
    renderLine.end();
    void opening.then((shelf) => shelf?.close());
  });

  const autosave = createAutosave(store.project, library);
  const { inferring } = createLiveBeats(store, hearLine, tell);
  const { loop, rendering } = createLiveLoop(store, sound, renderLine, tell);

  /** One long piece of work at a time; a new one takes the place of the old. */
  let busy: AbortController | null = null;
  const work = async <T>(
    what: string,
    run: (signal: AbortSignal, progress: (share: number, what: string) => void) => Promise<T>,
  ): Promise<T | null> => {
    busy?.abort();
    const mine = new AbortController();
    busy = mine;
    const cancel = () => mine.abort();
    setProblem(null);
    setDoing({ what, share: 0, cancel });
    try {
      return await run(mine.signal, (share, now) => {
        if (busy === mine) setDoing({ what: now || what, share, cancel });
      });
    } catch (error) {
      tell(error);
      return null;
    } finally {
      if (busy === mine) {
        busy = null;
        setDoing(null);
      }
    }
  };

  const keep = async (next: TakeSound | null) => {
    setSound(next);
    // Both workers start afresh, with the new take.
    hearLine.end();
    renderLine.end();
  };

  /** Hears the take that is on the desk, or remembers having heard it. */
  const hear = async (
    project: Project,
    signal: AbortSignal,
    progress: (share: number, what: string) => void,
  ): Promise<Heard> => {
    const shelf = await opening;
    const key = `${project.take.hash} ${hearing}`;
    const known = (await shelf?.getHeard(key).catch(() => null)) as Heard | null | undefined;
    if (known) {
      await hearLine.jobs.keepEvidence(signal, known.evidence);
      const beats = await hearLine.jobs.infer(signal, { fixes: project.fixes });
      return { ...known, beats };
    }
    const heard = await hearLine.jobs.hear(signal, { fixes: project.fixes }, progress);
    void shelf?.putHeard(key, heard).catch(() => {});
    return heard;
  };

  /** Slices and pads of a project that has none yet. */
  const firstCuts = (project: Project, heard: Heard): Project => {
    let next = setCuts(project.cuts, slicesOf(heard, project.cuts)).apply(project);
    padsInRow.forEach((_, row) => {
      const phrase = heard.phrases[row];
      const after = heard.phrases[row + 1];
      if (!phrase) return;
      const ids = next.slices
        .filter(
          (s) =>
            s.landing >= phrase.start - 0.05 &&
            s.landing < (after?.start ?? Number.POSITIVE_INFINITY) - 0.05,
        )
        .map((s) => s.id);
      next = fillRow(row, ids).apply(next);
    });
    return next;
  };

  const begin = async (
    recordings: readonly RecordingFile[],
    name: string | undefined,
    signal: AbortSignal,
    progress: (share: number, what: string) => void,
  ) => {
    const shelf = await opening;
    const read = await readFiles(recordings, shelf, hearLine, signal, (share, what) =>
      progress(share * 0.2, what),
    );
    const at = chooseTake(read);
    const take = read[at] as ReadFile;
    const stems = read.filter((_, i) => i !== at);
    const project = freshProject(take, stems, name);
    await autosave.flush();
    const next = takeSound(take, stems);
    await show(project, next, signal, (share, what) => progress(0.2 + share * 0.8, what));
    void askToKeep();
  };

  /** Puts a project on the desk, hears it, and saves it when it is new. */
  const show = async (
    project: Project,
    next: TakeSound,
    signal: AbortSignal,
    progress: (share: number, what: string) => void,
  ) => {
    await keep(next);
    store.open(project);
    try {
      const heard = await hear(project, signal, progress);
      const ready = project.slices.length ? project : firstCuts(project, heard);
      if (ready !== project) store.open(ready);
      store.setHeard(heard);
      settings.change({ project: project.id });
      if (ready !== project) await (await opening)?.save(ready);
      await refresh();
    } catch (error) {
      // A take that was not heard is not half on the desk.
      store.open(null);
      await keep(null);
      throw error;
    }
  };

  const openProject: Desk['openProject'] = async (id) => {
    await autosave.flush();
    await work('opening', async (signal, progress) => {
      const shelf = await opening;
      const found = await shelf?.load(id);
      if (!shelf || !found)
        return setProblem('That project is no longer kept here; open its recording again.');
      const { sound: stored, missing } = await readStored(found.project, shelf, hearLine, signal);
      await show(found.project, stored, signal, progress);
      const sentences = [
        ...found.repairs,
        ...missing.map((name) => `The stem ${name} is no longer kept here; add it again.`),
      ];
      if (sentences.length) setProblem(sentences.join(' '));
    });
  };

  const readAll = (files: readonly File[]): Promise<RecordingFile[]> =>
    Promise.all(
      files.map(async (file) => ({
        name: file.name,
        bytes: new Uint8Array(await file.arrayBuffer()),
      })),
    );

  const openProjectFile = async (file: File, others: readonly File[]) => {
    await autosave.flush();
    await work('opening', async (signal, progress) => {
      const { project, repairs } = parseProject(await file.text(), file.name);
      const shelf = await opening;
      if (!shelf)
        throw new Error(
          'This browser keeps nothing, so a project file cannot be opened; allow storage for this page.',
        );
      for (const { bytes } of await readAll(others)) await shelf.putAudio(bytes);
      const { sound: stored, missing } = await readStored(project, shelf, hearLine, signal);
      await shelf.save(project);
      await show(project, stored, signal, progress);
      const sentences = [
        ...repairs,
        ...missing.map((name) => `The stem ${name} is missing; add it again.`),
      ];
      if (sentences.length) setProblem(sentences.join(' '));
    });
  };

  let sweep: { gesture: Gesture; wish: AbortController | null; done: boolean } | null = null;
  const sweepCuts: Desk['sweepCuts'] = (cuts, done = false) => {
    const heard = untrack(store.heard);
    if (!heard) return;
    const mine = sweep ?? {
      gesture: store.gesture('change how many cuts'),
      wish: null,
      done: false,
    };
    sweep = done ? null : mine;
    mine.done = done;
    mine.wish?.abort();
    const wish = new AbortController();
    mine.wish = wish;
    const { onsets, phrases, beats, levels } = heard;
    hearLine.jobs.suggest(wish.signal, { heard: { onsets, phrases, beats, levels }, cuts }).then(
      (suggested) => {
        mine.gesture.show(setCuts(cuts, suggested));
        if (mine.done) mine.gesture.done();
      },
      (error: unknown) => {
        tell(error);
        if (mine.done && mine.wish === wish) mine.gesture.done();
      },
    );
  };

  const showLane = (suggested: SuggestedLane | null, otherwise: string): string | null => {
    const project = untrack(store.project);
    if (!project) return null;
    if (!suggested) {
      setProblem(otherwise);
      return null;
    }
    const id = nextLaneId(project);
    store.edit(addLane(suggested.source, suggested.settings));
    store.setSession({ lane: id });
    return id;
  };

  return {
    store,
    sound,
    loop,
    rendering,
    inferring,
    doing,
    problem,
    setProblem,
    saving: autosave.state,
    saveNow: autosave.flush,
    projects,
    openProject,
    cancel: () => busy?.abort(),
    openFiles: async (files) => {
      const document = files.find((file) => /\.(json|unclicked)$/i.test(file.name));
      if (document)
        return openProjectFile(
          document,
          files.filter((file) => file !== document),
        );
      if (files.length === 0) return;
      await work('reading', async (signal, progress) =>
        begin(await readAll(files), undefined, signal, progress),
      );
    },
    openDemo: async () => {
      await work('the demo take is played', async (signal, progress) => {
        const { title, files } = await renderLine.jobs.demo(signal, undefined, (share, what) =>
          progress(share * 0.5, what),
        );
        await begin(files, title, signal, (share, what) => progress(0.5 + share * 0.5, what));
      });
    },
    openLast: async () => {
      const id = settings.settings.project;
      const shelf = await opening;
      if (id && (await shelf?.load(id).catch(() => null))) await openProject(id);
    },
    closeProject: async () => {
      await autosave.flush();
      busy?.abort();
      store.open(null);
      await keep(null);
      settings.change({ project: null });
      await refresh();
    },
    addStems: async (files) => {
      await work('reading stems', async (signal, progress) => {
        const project = untrack(store.project);
        const now = untrack(sound);
        if (!project || !now) return;
        const read = await readFiles(
          await readAll(files),
          await opening,
          hearLine,
          signal,
          progress,
        );
        const fresh = read.filter((stem) => !now.stems.some((s) => s.hash === stem.source.hash));
        const length = now.mix.channels[0]?.length ?? 0;
        const fitted = fresh.map((stem) => ({
          hash: stem.source.hash,
          label: stem.label,
          audio: fitStem(stem, project.take, length),
        }));
        await keep({ mix: now.mix, stems: [...now.stems, ...fitted] });
        store.edit(addStemFiles(fresh.map(stemFile)));
      });
    },
    duplicateProject: async (id) => {
      if (untrack(store.project)?.id === id) await autosave.flush();
      await (await opening)?.duplicate(id);
      await refresh();
    },
    removeProject: async (id) => {
      if (untrack(store.project)?.id === id) {
        await autosave.flush();
        store.open(null);
        await keep(null);
        settings.change({ project: null });
      }
      await (await opening)?.remove(id);
      await refresh();
    },
    restoreProject: async (id) => {
      await (await opening)?.restore(id);
      await refresh();
    },
    sweepCuts,
    makeStraight: (from, until) =>
      showLane(
        suggestStraight(untrack(store.heard)?.beats ?? [], from, until),
        'No beats are known there; tap along with the take, then make the loop.',
      ),
    makeFlip: (ids) => {
      const project = untrack(store.project);
      const slices = project?.slices.filter((slice) => ids.includes(slice.id)) ?? [];
      const empty: SuggestedLane = { source: { kind: 'flip', placements: [] }, settings: {} };
      return showLane(suggestFlip(untrack(store.heard)?.beats ?? [], slices) ?? empty, '');
    },
    saveLoop: async (laneId, options) => {
      const files = await work('writing the loop', async (signal, progress) => {
        const project = untrack(store.project);
        const take = untrack(sound);
        const lane = project?.lanes.find((one) => one.id === laneId) ?? null;
        const input = untrack(() => renderInput(store, lane, options.stems));
        if (!project || !take) return [];
        if (!input) throw new InputError('The lane is empty; place a slice on it first.');
        const done = await renderLoop(renderLine, signal, input, take, (share, what) =>
          progress(share * 0.8, what),
        );
        return saveLoop(renderLine, signal, project.name, done, options, (share, what) =>
          progress(0.8 + share * 0.2, what),
        );
      });
      return files ?? [];
    },
    savePack: async () => null,
    saveProject: () => {
      const project = untrack(store.project);
      if (!project) return null;
      const blob = new Blob([writeProject(project)], { type: 'application/json' });
      return { name: `${fileName(project.name)}.json`, blob };
    },
    pitchSlice: async (slice, semitones, cents) => {
      const now = untrack(sound);
      if (!now) return null;
      try {
        const [mix, ...stems] = await renderLine.jobs.pitch(new AbortController().signal, {
          slice,
          semitones,
          cents,
        });
        if (!mix) return null;
        return {
          mix,
          stems: now.stems.flatMap((stem, i) => (stems[i] ? [{ ...stem, audio: stems[i] }] : [])),
        };
      } catch (error) {
        tell(error);
        return null;
      }
    },
  };
}

const full =
  'The browser has no more room to keep projects; delete one, or save the project and its recording elsewhere.';
