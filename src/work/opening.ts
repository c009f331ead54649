import { inflateSync } from 'fflate';
import { type Accessor, untrack } from 'solid-js';
import { InputError } from '../../shared/math/input-error.ts';
import type { Progress } from '../../shared/math/progress.ts';
import type { Percent } from '../../shared/math/units.ts';
import { readProjectZip } from '../../shared/pack/project-zip.ts';
import { lengthOf } from '../../shared/take/audio.ts';
import { sourceOf } from '../../shared/take/byte-source.ts';
import { type Autosave, askToKeep } from '../store/autosave.ts';
import type { Heard } from '../store/heard.ts';
import type { Library } from '../store/library.ts';
import type { Project } from '../store/project.ts';
import { addStems as addStemFiles } from '../store/project-commands.ts';
import { parseProject, type ReadProject, readProject } from '../store/project-file.ts';
import type { ProjectStore } from '../store/project-store.ts';
import type { createSettings } from '../store/settings.ts';
import type { Desk, TakeSound } from './desk.ts';
import { fileBytes } from './file-bytes.ts';
import { firstCuts } from './first-cuts.ts';
import { untilAnswered } from './job-client.ts';
import { partOf, type Work } from './one-work.ts';
import {
  chooseTake,
  type FilesAtHand,
  freshProject,
  type ReadFile,
  type RecordingFile,
  readFiles,
  readStored,
  stemFile,
  stemSound,
  takeSound,
} from './open-take.ts';
import { sortOut } from './recording-names.ts';
import { type WorkerLine, workerVersion } from './workers.ts';

export interface OpeningParts {
  readonly store: ProjectStore;
  readonly shelf: Promise<Library | null>;
  readonly lines: { readonly hearing: WorkerLine; readonly rendering: WorkerLine };
  readonly work: Work;
  readonly sound: Accessor<TakeSound | null>;
  readonly putSound: (sound: TakeSound | null) => void;
  readonly setProblem: (sentence: string | null) => void;
  readonly settings: ReturnType<typeof createSettings>;
  readonly atHand: FilesAtHand;
  readonly refresh: () => Promise<void>;
  readonly leave: Autosave['leave'];
  /** Saves what waits, and tries again by itself where that fails. */
  readonly save: Autosave['flush'];
  /** True, and said, where another window has the project. */
  readonly refuse: () => boolean;
  /** Says what went wrong. */
  readonly tell: (error: unknown) => void;
  /** Says something beside what else went wrong. */
  readonly note: (sentence: string) => void;
}

type Opening = Pick<Desk, 'openFiles' | 'openDemo' | 'openProject' | 'openLast' | 'addStems'> & {
  /** Takes everything off the desk. */
  readonly clear: () => void;
};

/** Everything that brings something onto the desk: recordings, the demo, projects from the shelf and from files. */
export function makeOpening(parts: OpeningParts): Opening {
  const { store, lines, work, setProblem, settings } = parts;

  /** How often something was to be opened. */
  let wishes = 0;
  /** Copies of what was done here beside another window, not told of yet. */
  let copies: string[] = [];

  /** Puts away what is open. Throws InputError where it would be lost by opening something else. */
  const putAway = async () => {
    const { safe, copy } = await parts.leave();
    if (copy) copies.push(copy);
    const name = untrack(store.project)?.name ?? 'The project';
    if (!safe)
      throw new InputError(
        `${name} could not be saved, so it stays open; save it as a file first.`,
      );
  };
  /** Opens something in the place of what is open, unless that would be lost. */
  const instead = async (open: () => Promise<unknown>) => {
    wishes += 1;
    try {
      await putAway();
      await open();
    } catch (error) {
      parts.tell(error);
    }
    const told = copies;
    copies = [];
    for (const copy of told) parts.note(keptAs(copy));
  };

  /** Hears the take that is on the desk, or remembers having heard it. */
  const hear = async (
    project: Project,
    signal: AbortSignal,
    progress: Progress,
  ): Promise<Heard> => {
    const shelf = await parts.shelf;
    const { fixes } = project;
    const stems = project.stems.map((stem) => stem.hash.slice(0, 8)).join(' ');
    const key = `${project.take.hash} ${workerVersion} ${stems}`;
    const known = (await shelf?.getHeard(key).catch(() => null)) as Heard | null | undefined;
    if (known) {
      await lines.hearing.jobs.keepEvidence(signal, known.evidence);
      return { ...known, beats: await lines.hearing.jobs.infer(signal, { fixes }) };
    }
    return lines.hearing.jobs.hear(signal, { fixes, key }, progress);
  };

  const suggest = ({ onsets, phrases, beats, levels }: Heard, cuts: Percent, signal: AbortSignal) =>
    lines.hearing.jobs.suggest(signal, { heard: { onsets, phrases, beats, levels }, cuts });

  const clear = () => {
    store.open(null);
    parts.putSound(null);
    settings.change({ project: null });
  };

  /** Puts a project on the desk, hears it, and keeps it where it is new. */
  const show = async (
    project: Project,
    sound: TakeSound,
    signal: AbortSignal,
    progress: Progress,
    isNew = false,
  ) => {
    const before = untrack(parts.sound);
    parts.putSound(sound);
    // After the sound, whose end hands over what was being played in.
    const goBack = store.remember();
    // Opened anew it is no edit of itself.
    if (untrack(store.project)?.id === project.id) store.open(null);
    store.open(project);
    /** It may be worked on while it is heard: named, its pack described, a stem taken away. */
    const now = () => untrack(store.project) ?? project;
    try {
      let asked: Project;
      let heard: Heard;
      do {
        asked = now();
        heard = await untilAnswered(signal, () => hear(now(), signal, progress));
      } while (asked.fixes !== now().fixes);
      const suggested =
        project.slices.length > 0
          ? null
          : await untilAnswered(signal, () => suggest(heard, project.cuts, signal));
      const uncut = now();
      const ready = suggested ? firstCuts(uncut, heard.phrases, suggested) : uncut;
      if (ready !== uncut) store.open(ready);
      store.setHeard(heard);
      settings.change({ project: project.id });
      const shelf = await parts.shelf;
      // Not before it is heard: one that is given up or lacks its take would be kept each time that it is tried.
      if (isNew) await shelf?.save(now());
      // Where it is refused one can work all the same: that is said, and it is tried again by itself.
      else if (ready !== uncut) await shelf?.save(now()).catch(parts.save);
    } catch (error) {
      // A take that was not heard is not half on the desk: what lay there before lies there again.
      parts.putSound(before);
      goBack();
      throw error;
    }
    await parts.refresh();
  };

  const begin = async (
    recordings: readonly RecordingFile[],
    name: string | undefined,
    signal: AbortSignal,
    progress: Progress,
  ) => {
    const reading = partOf(progress, 0, 0.2);
    let kept = true;
    const refuse = () => {
      kept = false;
    };
    const read = await readFiles(recordings, lines.hearing, signal, reading, refuse, parts.atHand);
    const at = chooseTake(read);
    const take = read[at] as ReadFile;
    const stems = read.filter((_, i) => i !== at);
    const sound = takeSound(take, stems);
    // What was done while the files were read.
    await putAway();
    await show(freshProject(take, stems, name), sound, signal, partOf(progress, 0.2, 1));
    const told = [...(kept ? [] : [noRoom]), ...notesOf(read)];
    if (told.length > 0) setProblem(told.join(' '));
    // Asked now, when the user has just given something that is worth keeping.
    void askToKeep();
  };

  /** A project of the shelf. Throws InputError where it is gone. */
  const kept = async (shelf: Library | null, id: string): Promise<ReadProject> => {
    const found = await shelf?.load(id);
    if (found) return found;
    throw new InputError('That project is no longer kept here; open its recording again.');
  };

  /** Shows a project whose recordings are on the shelf, and says what was repaired and what is missing. */
  const showStored = async (
    read: ReadProject,
    shelf: Library,
    signal: AbortSignal,
    progress: Progress,
    isNew = false,
  ) => {
    const { sound, missing } = await readStored(read.project, shelf, lines.hearing, signal);
    await putAway();
    // It may have been worked on, or deleted, while its recordings were read.
    const { project, repairs } = isNew ? read : await kept(shelf, read.project.id);
    signal.throwIfAborted();
    await show(project, sound, signal, progress, isNew);
    const lost = missing.map((name) => `The stem ${name} is not kept here; add it again.`);
    if (repairs.length + lost.length > 0) setProblem([...repairs, ...lost].join(' '));
  };

  /** Opens a saved project: a zip with its recordings, or the bare document with the recordings dropped beside it. */
  const openSaved = (file: File, others: readonly File[]) =>
    work('opening', async (signal, progress) => {
      const shelf = await parts.shelf;
      if (!shelf)
        throw new InputError(
          'This browser keeps nothing for this page, so a project cannot be opened; allow it to store data.',
        );
      let read: ReadProject;
      if (/\.json$/i.test(file.name)) read = parseProject(await file.text(), file.name);
      else {
        const zip = readProjectZip(await bytesOf(file).then(sourceOf), file.name, (bytes, size) =>
          inflateSync(bytes, { out: new Uint8Array(size) }),
        );
        read = readProject(zip.document, file.name);
        for (const recording of zip.audio.values()) await shelf.putAudio(recording.bytes());
      }
      for (const other of others) await shelf.putAudio(await bytesOf(other));
      // One that is here already, and maybe worked on since, is not overwritten.
      const project = (await shelf.has(read.project.id))
        ? { ...read.project, id: crypto.randomUUID() }
        : read.project;
      await showStored({ ...read, project }, shelf, signal, progress, true);
    });

  const openProject: Desk['openProject'] = (id) =>
    instead(() =>
      work('opening', async (signal, progress) => {
        const shelf = await parts.shelf;
        const found = await kept(shelf, id);
        if (shelf) await showStored(found, shelf, signal, progress);
      }),
    );

  return {
    clear,
    openProject,
    openFiles: async (files) => {
      if (files.length === 0) return;
      const saved = files.find((file) => /\.(json|zip|unclicked)$/i.test(file.name));
      const others = files.filter((file) => file !== saved);
      await instead(() =>
        saved
          ? openSaved(saved, others)
          : work('reading', async (signal, progress) => {
              const { recordings, note } = sortOut(files);
              await begin(recordingsOf(recordings), undefined, signal, progress);
              if (note) parts.note(note);
            }),
      );
    },
    openDemo: () =>
      instead(() =>
        work('the demo take is played', async (signal, progress) => {
          const playing = partOf(progress, 0, 0.5);
          const { title, files } = await untilAnswered(signal, () =>
            lines.rendering.jobs.demo(signal, undefined, playing),
          );
          await begin(files, title, signal, partOf(progress, 0.5, 1));
        }),
      ),
    openLast: async () => {
      const id = settings.settings.project;
      const before = wishes;
      const found = id && (await (await parts.shelf)?.load(id).catch(() => null));
      // Where the browser takes its time something else may be opened by now.
      if (id && found && wishes === before) await openProject(id);
    },
    addStems: async (files) => {
      if (parts.refuse()) return;
      await work('reading stems', async (signal, progress) => {
        const refuse = () => setProblem(noRoom);
        const { recordings, note: leftOut } = sortOut(files);
        const read = await readFiles(
          recordingsOf(recordings),
          lines.hearing,
          signal,
          progress,
          refuse,
          parts.atHand,
        );
        const project = untrack(store.project);
        const now = untrack(parts.sound);
        // Another window may have taken the project over while they were read.
        if (!project || !now || parts.refuse()) return;
        const fresh = read.filter((stem) => !now.stems.some((s) => s.hash === stem.source.hash));
        const added = fresh.map((stem) => stemSound(stem, project.take, lengthOf(now.mix)));
        parts.putSound({ mix: now.mix, stems: [...now.stems, ...added] });
        store.edit(addStemFiles(fresh.map(stemFile)));
        for (const note of [...notesOf(fresh), ...(leftOut ? [leftOut] : [])]) parts.note(note);
      });
    },
  };
}

/** What is said of work that went into a copy, since another window has its project. */
export const keptAs = (copy: string) => `What was done in this window is kept as ${copy}.`;

const noRoom =
  'The browser has no room to keep this recording: you can work on it, but not come back to it here; delete a project to make room, then open it again.';

const notesOf = (files: readonly ReadFile[]) => files.flatMap(({ note }) => (note ? [note] : []));

const bytesOf = (file: File) => fileBytes(file, file.name);

const recordingsOf = (files: readonly File[]): RecordingFile[] =>
  files.map((file) => ({ name: file.name, blob: file }));
