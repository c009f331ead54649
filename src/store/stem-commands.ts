import { type Command, mapChanged, patched } from './command.ts';

/** What a stem is called, and which version of its part it is. */

/** Another name; an empty one leaves it as it was. */
export function renameStem(hash: string, label: string): Command {
  return {
    label: 'rename a stem',
    apply: (project) =>
      patched(project, {
        stems: mapChanged(project.stems, (stem) =>
          stem.hash === hash ? patched(stem, { label: label.trim() || stem.label }) : stem,
        ),
      }),
  };
}

/** A version beside the one in the mix: dry, wet, another performance; null: it is the one in the mix. */
export function nameVariant(hash: string, variant: string | null): Command {
  return {
    label: 'name a variant',
    apply: (project) =>
      patched(project, {
        stems: mapChanged(project.stems, (stem) =>
          stem.hash === hash ? patched(stem, { variant: variant?.trim() || null }) : stem,
        ),
      }),
  };
}

/** Versions that file names tell: the last word of a stem's label. */
const told = /^(.*[^\s-])[\s-]+(dry|wet|alt|alternate)$/i;

/** "Viola dry" is the viola, dry. */
export function partOfLabel(label: string): {
  readonly label: string;
  readonly variant: string | null;
} {
  const [, part, word] = told.exec(label) ?? [];
  if (!part || !word) return { label, variant: null };
  const variant = word.toLowerCase();
  return { label: part, variant: variant === 'alt' ? 'alternate' : variant };
}
