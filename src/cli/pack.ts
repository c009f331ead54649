import { deflateRawSync } from 'node:zlib';
import { hearTake } from '../../shared/cut/hear-take.ts';
import type { Progress } from '../../shared/math/progress.ts';
import { makePack } from '../../shared/pack/pack.ts';
import { type PackedHeard, type PackInput, packedHeard } from '../../shared/pack/pack-input.ts';
import {
  loopWords,
  loudest,
  type PackWishes,
  packings,
  sliceWords,
  softest,
  templateProblem,
} from '../../shared/pack/pack-wishes.ts';
import { writeZip, type ZipEntry } from '../../shared/pack/zip-write.ts';
import { watchDeadMemory } from './dead-memory.ts';
import { loosePaths, type OpenProject, openProject } from './open-project.ts';
import { bitChoices } from './parts-out.ts';
import { partOf, terminalProgress } from './progress.ts';
import { readBytes } from './read-files.ts';
import { spareInputs } from './spared-inputs.ts';
import type { Verb } from './verb.ts';
import { checkWritable, writeFiles } from './write-files.ts';

/** Where a pack goes, and what is wished of it. */
interface PackCall {
  readonly to: string;
  readonly wishes: PackWishes;
  readonly force: boolean;
  readonly progress?: Progress;
  /** Called now and then: clears away what is dead. */
  readonly clear: () => void;
}

const braced = (words: readonly string[]) => words.map((word) => `{${word}}`).join(' ');

export const pack: Verb = {
  help: `unclicked pack PROJECT --to PACK.zip

Writes the whole delivery of a project: take, stems and tempo map, loops, slices, report.

What is not said here is as the project says, or else by default.

  --bits 16|24|32f   loops and slices (as the take is stored)
  --rate N           sample rate of loops and slices (the take's)
  --loudness N       LUFS that each loop's mix is brought to, its stems by as much (as loud
                     as it is)
  --stem-slices      slices of every stem too
  --title TEXT       what the whole is called (the project's name)
  --artist TEXT      who made it
  --credits FILE     text for credits.txt
  --terms FILE       text for credits.txt: what may be done with it
  --loop-name TEXT   names of loops, from ${braced(loopWords)}
  --slice-name TEXT  names of slices, from ${braced(sliceWords)}
  --packing stored|texts|deflated  what of the zip is deflated (texts)
  --force            overwrite what is there`,
  options: {
    to: { type: 'string' },
    bits: { type: 'string' },
    rate: { type: 'string' },
    loudness: { type: 'string' },
    'stem-slices': { type: 'boolean' },
    title: { type: 'string' },
    artist: { type: 'string' },
    credits: { type: 'string' },
    terms: { type: 'string' },
    'loop-name': { type: 'string' },
    'slice-name': { type: 'string' },
    packing: { type: 'string' },
    force: { type: 'boolean' },
  },
  run: async (given) => {
    const path = given.only('project file');
    const to = given.need('to', 'where the pack goes');
    const force = given.flag('force');
    const text = (name: string) => {
      const file = given.text(name);
      return file === undefined ? undefined : new TextDecoder().decode(readBytes(file));
    };
    const template = (name: string, words: readonly string[]) => {
      const wish = given.text(name);
      const problem = wish === undefined ? null : templateProblem(wish, words);
      return problem === null ? wish : given.fail(`--${name}: ${problem.replace(/\.$/, '')}`);
    };
    const asked: PackWishes = {
      bits: given.choice('bits', bitChoices),
      sampleRate: given.whole('rate', 8000, 192_000),
      loudness: given.number('loudness', softest, loudest),
      stemSlices: given.flag('stem-slices') || undefined,
      title: given.text('title'),
      artist: given.text('artist'),
      credits: text('credits'),
      terms: text('terms'),
      loopName: template('loop-name', loopWords),
      sliceName: template('slice-name', sliceWords),
      packing: given.choice('packing', packings),
    };
    spareInputs(given, [to], [path, given.text('credits'), given.text('terms')]);
    checkWritable(to, force);
    const progress = terminalProgress();
    const open = await openProject(path);
    spareInputs(given, [to], loosePaths(open));
    const said = Object.entries(asked).filter(([, wish]) => wish !== undefined);
    const wishes: PackWishes = { ...open.project.pack, ...Object.fromEntries(said) };
    const clear = watchDeadMemory();
    const heard = packedHeard(
      hearTake(open.take.audio, {
        stems: open.stems.map((stem) => stem.audio),
        fixes: open.project.fixes,
        progress: clearing(clear, partOf(progress, 0, 0.3)),
      }),
    );
    await writePack(open, heard, {
      to,
      wishes,
      force,
      progress: partOf(progress, 0.3, 0.7),
      clear,
    });
  },
};

/** Clears away what is dead at each step of the work. */
function clearing(clear: () => void, progress?: Progress): Progress {
  return (share, doing) => {
    clear();
    progress?.(share, doing);
  };
}

/** The same entries; what each leaves behind is gone before the next is made. */
function* cleared(entries: Iterable<ZipEntry>, clear: () => void): Generator<ZipEntry> {
  for (const entry of entries) {
    clear();
    yield entry;
  }
}

/** Writes the pack of an open project. */
export async function writePack(
  { project, take, stems }: OpenProject,
  heard: PackedHeard,
  { to, wishes, force, progress, clear }: PackCall,
): Promise<void> {
  const input: PackInput = {
    name: project.name,
    changed: project.changed,
    take: { ...project.take, ...take },
    stems: project.stems.map((stem, i) => ({ ...stem, ...stems[i] })),
    heard,
    slices: project.slices,
    pads: project.pads,
    lanes: project.lanes,
  };
  const entries = cleared(makePack(input, wishes, clearing(clear, progress)), clear);
  const bytes = writeZip(entries, { date: project.changed, deflate: deflateRawSync });
  await writeFiles([{ path: to, bytes }], force);
}
