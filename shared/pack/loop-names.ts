import type { Key } from '../hear/heard.ts';
import type { Lane } from '../loop/lane.ts';
import { id3Key } from './id3-chunk.ts';
import { defaultTemplates, fillTemplate, uniqueNames } from './names.ts';
import { type PackWishes, titleOf } from './pack-wishes.ts';

/** What the files of a loop say of where it comes from. */
export interface LoopOrigin {
  readonly name: string;
  readonly changed: string;
  readonly take: { readonly hash: string };
  readonly heard: { readonly key: Key };
}

/** A file's name for each part of a loop, without its ending. */
export function loopTitles(
  parts: readonly { readonly part: string; readonly variant: string | null }[],
  lane: Lane,
  origin: LoopOrigin,
  wishes: PackWishes,
): string[] {
  const { key } = origin.heard;
  const values = {
    take: titleOf(wishes, origin.name),
    lane: lane.name,
    bpm: Number(lane.bpm.toFixed(2)),
    key: key.mode === 'unclear' ? '' : id3Key(key),
    bars: lane.bars,
  };
  return uniqueNames(
    parts.map(({ part, variant }) =>
      fillTemplate(wishes.loopName ?? defaultTemplates.loop, {
        ...values,
        stem: variant ? `${part} ${variant}` : part,
      }),
    ),
  );
}
