import {
  longestLine,
  longestText,
  loopWords,
  type PackWishes,
  sliceWords,
  templateProblem,
} from '../../shared/pack/pack-wishes.ts';
import type { Command } from './command.ts';
import { patched } from './command.ts';
import type { StemFile } from './project.ts';

/** Edits of the project as a whole: its name and its stems. */

export function renameProject(name: string): Command {
  return {
    label: 'rename',
    apply: (project) => patched(project, { name: name.trim() || project.name }),
  };
}

const wishWords: Readonly<Record<keyof PackWishes, string>> = {
  title: 'change the title',
  artist: 'change the artist',
  credits: 'change the credits',
  terms: 'change the terms',
  bits: 'change the sample format',
  sampleRate: 'change the sample rate',
  loudness: 'change how loud loops are',
  stemSlices: 'change which slices are packed',
  loopName: 'change how loops are named',
  sliceName: 'change how slices are named',
  packing: 'change how the pack is zipped',
};

/** Whether a wish can be met; one that can't leaves things as they were. */
function sensible([key, wish]: readonly [string, unknown]): boolean {
  if (typeof wish !== 'string' || wish.trim() === '') return true;
  if (key === 'loopName') return templateProblem(wish, loopWords) === null;
  if (key === 'sliceName') return templateProblem(wish, sliceWords) === null;
  return wish.length <= (key === 'credits' || key === 'terms' ? longestText : longestLine);
}

/** Changes what is wished of the pack. What is undefined, or a text without a letter, goes back to its default. */
export function wishPack(patch: PackWishes): Command {
  const [first] = Object.keys(patch) as (keyof PackWishes)[];
  return {
    label: (first && wishWords[first]) ?? 'change the pack',
    apply: (project) => {
      const before = project.pack ?? {};
      const merged = Object.entries({
        ...before,
        ...Object.fromEntries(Object.entries(patch).filter(sensible)),
      }).filter(
        ([, wish]) => wish !== undefined && !(typeof wish === 'string' && wish.trim() === ''),
      );
      const wishes = Object.fromEntries(merged) as PackWishes;
      if (JSON.stringify(wishes) === JSON.stringify(before)) return project;
      const { pack: _, ...rest } = project;
      return merged.length === 0 ? rest : { ...rest, pack: wishes };
    },
  };
}

/** Adds stems; one that is there already (same file) stays as it was. */
export function addStems(stems: readonly StemFile[]): Command {
  return {
    label: stems.length === 1 ? 'add a stem' : 'add stems',
    apply: (project) => {
      const fresh = stems.filter((stem) => !project.stems.some((s) => s.hash === stem.hash));
      return fresh.length ? { ...project, stems: [...project.stems, ...fresh] } : project;
    },
  };
}

export function removeStem(hash: string): Command {
  return {
    label: 'remove a stem',
    apply: (project) => {
      const stems = project.stems.filter((stem) => stem.hash !== hash);
      return stems.length === project.stems.length ? project : { ...project, stems };
    },
  };
}
