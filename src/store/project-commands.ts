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
