import type { StemFile } from './project.ts';
import type { Session } from './session.ts';

/** How a stem is listened to. A variant is not part of the mix: heard, it takes the place of the part that is. */
export type StemState = 'heard' | 'silent' | 'alone';

type Choice = Pick<Session, 'muted' | 'solo'>;
type Stem = Pick<StemFile, 'hash' | 'label' | 'variant'>;

export function stemState(stem: Stem, { muted, solo }: Choice): StemState {
  if (solo.includes(stem.hash)) return 'alone';
  if (muted.includes(stem.hash)) return 'silent';
  // While the mix sounds no variant does.
  return stem.variant !== null && (muted.length === 0 || solo.length > 0) ? 'silent' : 'heard';
}

/**
 * Which stems are silent and which alone are heard once one of them is listened to in another way. As
 * long as nothing is chosen the mix sounds; from then on it is put together from its stems, without the
 * variants but for those that were asked for.
 */
export function hearStem(
  stems: readonly Stem[],
  choice: Choice,
  hash: string,
  state: StemState,
): Choice {
  const stem = stems.find((one) => one.hash === hash);
  if (!stem) return choice;
  const solo = choice.solo.filter((one) => one !== hash);
  if (state === 'alone') return { muted: choice.muted, solo: [...solo, hash] };

  const silent = new Set(
    stems
      .filter((one) => one.hash !== hash && stemState(one, { ...choice, solo: [] }) === 'silent')
      .map((one) => one.hash),
  );
  if (state === 'silent') silent.add(hash);
  // Two players of one name are no rivals; a variant is one of all that bear its name.
  const rivals = stems.filter(
    (one) =>
      one.hash !== hash &&
      one.label === stem.label &&
      (one.variant !== null || stem.variant !== null),
  );
  if (state === 'heard') for (const one of rivals) silent.add(one.hash);
  // A variant that was heard and is silenced gives its place back.
  else if (stem.variant !== null && stemState(stem, { ...choice, solo: [] }) === 'heard')
    for (const one of rivals) if (one.variant === null) silent.delete(one.hash);

  const plain = stems.every((one) => silent.has(one.hash) === (one.variant !== null));
  const muted = stems.filter((one) => silent.has(one.hash)).map((one) => one.hash);
  return { muted: plain ? [] : muted, solo };
}
