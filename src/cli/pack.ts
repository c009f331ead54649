import { deflateRawSync } from 'node:zlib';
import { type HeardTake, hearTake } from '../../shared/cut/hear-take.ts';
import type { Progress } from '../../shared/math/progress.ts';
import { makePack } from '../../shared/pack/pack.ts';
import type { PackInput, PackWishes } from '../../shared/pack/pack-input.ts';
import { writeZip } from '../../shared/pack/zip-write.ts';
import { type OpenProject, openProject } from './open-project.ts';
import { bitChoices } from './parts-out.ts';
import { partOf, terminalProgress } from './progress.ts';
import { readBytes } from './read-files.ts';
import type { Verb } from './verb.ts';
import { checkWritable, writeFiles } from './write-files.ts';

/** Where a pack goes, and what is wished of it. */
interface PackCall {
  readonly to: string;
  readonly wishes: PackWishes;
  readonly force: boolean;
  readonly progress?: Progress;
}

export const pack: Verb = {
  help: `unclicked pack PROJECT --to PACK.zip

Writes the whole delivery of a project: take, stems and tempo map, loops, slices, report.

  --bits 16|24|32f   loops and slices; as the take is stored, unless said here
  --rate N           sample rate of the loops; the take's, unless said here
  --stem-slices      slices of every stem too
  --artist TEXT      who made it
  --credits FILE     text for credits.txt
  --terms FILE       text for credits.txt: what may be done with it
  --force            overwrite what is there`,
  options: {
    to: { type: 'string' },
    bits: { type: 'string' },
    rate: { type: 'string' },
    'stem-slices': { type: 'boolean' },
    artist: { type: 'string' },
    credits: { type: 'string' },
    terms: { type: 'string' },
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
    const wishes: PackWishes = {
      bits: given.choice('bits', bitChoices),
      sampleRate: given.number('rate', 8000, 192000),
      stemSlices: given.flag('stem-slices'),
      artist: given.text('artist'),
      credits: text('credits'),
      terms: text('terms'),
    };
    checkWritable(to, force);
    const progress = terminalProgress();
    const open = openProject(path);
    const heard = hearTake(open.take.audio, {
      stems: open.stems.map((stem) => stem.audio),
      fixes: open.project.fixes,
      progress: partOf(progress, 0, 0.3),
    });
    await writePack(open, heard, { to, wishes, force, progress: partOf(progress, 0.3, 0.7) });
  },
};

/** Writes the pack of an open project. */
export async function writePack(
  { project, take, stems }: OpenProject,
  heard: HeardTake,
  { to, wishes, force, progress }: PackCall,
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
  const entries = makePack(input, wishes, progress);
  const bytes = writeZip(entries, { date: project.changed, deflate });
  await writeFiles([{ path: to, bytes }], force);
}

/** Text shrinks well; sound hardly does, and is stored. */
function deflate(bytes: Uint8Array): Uint8Array {
  const sound = bytes[0] === 0x52 && bytes[1] === 0x49;
  return sound ? bytes : deflateRawSync(bytes);
}
