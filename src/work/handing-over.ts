import { type Accessor, untrack } from 'solid-js';
import type { Lane } from '../../shared/loop/lane.ts';
import { InputError } from '../../shared/math/input-error.ts';
import { safeName } from '../../shared/pack/names.ts';
import { packedHeard } from '../../shared/pack/pack-input.ts';
import { titleOf } from '../../shared/pack/pack-wishes.ts';
import type { Library } from '../store/library.ts';
import type { Project, SourceFile } from '../store/project.ts';
import { writeProject } from '../store/project-file.ts';
import type { ProjectStore } from '../store/project-store.ts';
import type { Desk, Loop, NamedFile, TakeSound } from './desk.ts';
import { fileBytes } from './file-bytes.ts';
import type { PackOrder } from './jobs.ts';
import { type LiveLoop, laneInView, renderInput, renderLoop } from './live-loop.ts';
import { partOf, type Work } from './one-work.ts';
import type { FilesAtHand } from './open-take.ts';
import { newFolder, takeBack } from './pack-folder.ts';
import type { WorkerLine } from './workers.ts';
import { createStorage, writeLoop } from './write-loop.ts';

export interface HandingOverParts {
  readonly store: ProjectStore;
  readonly sound: Accessor<TakeSound | null>;
  readonly live: LiveLoop;
  readonly shelf: Promise<Library | null>;
  readonly line: WorkerLine;
  readonly work: Work;
  readonly atHand: FilesAtHand;
}

/** Everything that leaves the desk as a file. */
export function makeHandingOver({
  store,
  sound,
  live,
  shelf,
  line,
  work,
  atHand,
}: HandingOverParts): Pick<
  Desk,
  'saveLoop' | 'loopFile' | 'savePack' | 'packInto' | 'saveProject'
> {
  /** A recording's file as it came. */
  const fileOf = async (source: SourceFile): Promise<Uint8Array> => {
    const bytes = await (await shelf)?.getAudio(source.hash);
    if (bytes) return bytes;
    const file = atHand.get(source.hash);
    if (file) return fileBytes(file, source.name);
    throw new InputError(
      `The file of ${source.name} is not kept by this browser, so it cannot be handed over; open the recording again.`,
    );
  };

  /** What the worker needs to pack the open project. Throws InputError where it has other stems at hand. */
  const packOrder = async (): Promise<PackOrder | null> => {
    const project = untrack(store.project);
    const heard = untrack(store.heard);
    if (!project || !heard) return null;
    const files = await Promise.all([project.take, ...project.stems].map(fileOf));
    const there = untrack(sound)?.stems.map((stem) => stem.hash) ?? [];
    if (project.stems.map((stem) => stem.hash).join() !== there.join())
      throw new InputError(
        'Not all stems are read, or some were just taken away; save the pack again in a moment, or add those that are missing once more.',
      );
    return { project, heard: packedHeard(heard), files };
  };
  const packName = (project: Project) => safeName(titleOf(project.pack ?? {}, project.name));
  const storage = createStorage(line, fileOf);
  /** The loop of this lane where it is rendered already, the mix alone as it is heard. */
  const ready = (lane: Lane | null): Loop | null => {
    const loop = untrack(live.loop);
    if (!loop || !lane || untrack(live.rendering) || loop.lane.id !== lane.id) return null;
    return { ...loop, lane };
  };

  return {
    saveLoop: async (id, options) => {
      const files = await work('writing the loop', async (signal, progress) => {
        const project = untrack(store.project);
        const take = untrack(sound);
        const heard = untrack(store.heard);
        const lane = project?.lanes.find((one) => one.id === id) ?? null;
        // Without its stems the mix alone decides how it is warped, as it is heard and as in the command.
        const input = untrack(() => renderInput(store, lane, options.stems));
        if (!project || !take || !heard) return [];
        if (!input) throw new InputError('The lane is empty; place a slice on it first.');
        const rendering = partOf(progress, 0, 0.8);
        const loop =
          (options.stems ? null : ready(lane)) ??
          (await renderLoop(line, signal, input, take, rendering));
        const writing = partOf(progress, 0.8, 1);
        return writeLoop({ line, signal, project, heard, storage }, loop, options.stems, writing);
      });
      return files ?? [];
    },
    loopFile: async (signal) => {
      const project = untrack(store.project);
      const heard = untrack(store.heard);
      const loop = ready(untrack(() => laneInView(project, store.session.lane)));
      if (!project || !heard || !loop) return null;
      const [file] = await writeLoop({ line, signal, project, heard, storage }, loop, false);
      return file ?? null;
    },
    savePack: () =>
      work('packing', async (signal, progress): Promise<NamedFile | null> => {
        const order = await packOrder();
        if (!order) return null;
        const blob = await line.jobs.pack(signal, order, progress);
        return { name: `${packName(order.project)} pack.zip`, blob };
      }),
    packInto: (folder) =>
      work('packing', async (signal, progress): Promise<string | null> => {
        const order = await packOrder();
        if (!order) return null;
        const name = await newFolder(folder, packName(order.project));
        try {
          await line.jobs.packInto(signal, { ...order, folder, name }, progress);
          return name;
        } catch (error) {
          await takeBack(folder, name);
          throw error;
        }
      }),
    saveProject: () =>
      work('saving the project', async (signal): Promise<NamedFile | null> => {
        const project = untrack(store.project);
        if (!project) return null;
        const sources = [project.take, ...project.stems];
        const audio = await Promise.all(
          sources.map(async (source) => ({ hash: source.hash, bytes: await fileOf(source) })),
        );
        const input = { document: writeProject(project), audio, date: project.changed };
        const blob = await line.jobs.projectZip(signal, input);
        return { name: `${safeName(project.name)}.unclicked.zip`, blob };
      }),
  };
}
