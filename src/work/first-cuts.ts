import type { Slice } from '../../shared/cut/slice.ts';
import type { Phrase } from '../../shared/hear/heard.ts';
import { fillRow, padsInRow } from '../store/pad-commands.ts';
import type { Project } from '../store/project.ts';
import { setCuts } from '../store/slice-commands.ts';

/** A slice that lands this little before its phrase begins still belongs to it. */
const before = 0.05;

/** Names of the slices that land in a phrase, the last phrase reaching to the take's end. */
function slicesIn(project: Project, phrases: readonly Phrase[], index: number): string[] {
  const from = phrases[index]?.start ?? Number.POSITIVE_INFINITY;
  const until = phrases[index + 1]?.start ?? Number.POSITIVE_INFINITY;
  return project.slices
    .filter((slice) => slice.landing >= from - before && slice.landing < until - before)
    .map((slice) => slice.id);
}

/** A project that has no slices yet gets the suggested ones, and the first phrases on the rows of pads. */
export function firstCuts(
  project: Project,
  phrases: readonly Phrase[],
  suggested: readonly Slice[],
): Project {
  const cut = setCuts(project.cuts, suggested).apply(project);
  return padsInRow.reduce(
    (now: Project, _, row) => fillRow(row, slicesIn(now, phrases, row)).apply(now),
    cut,
  );
}
