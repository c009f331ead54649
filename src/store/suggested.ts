import type { NamedSlice, Slice } from '../../shared/cut/slice.ts';
import { freshId } from './command.ts';
import type { Project } from './project.ts';

/** A suggestion that lands this near to an existing slice's landing is that slice. */
const sameLanding = 0.002;

/**
 * Newly suggested slices among those that stay: slices made by hand, and slices that a lane plays.
 * Suggestions give way to them. `heirs` says, for each slice that is gone, which one now holds its landing.
 * The very same list when nothing changes.
 */
export function mergeSuggested(
  project: Project,
  suggested: readonly Slice[],
): { readonly slices: readonly NamedSlice[]; readonly heirs: ReadonlyMap<string, string> } {
  const placed = new Set<string>();
  for (const lane of project.lanes)
    if (lane.source.kind === 'flip') for (const p of lane.source.placements) placed.add(p.slice);
  const kept = project.slices.filter((slice) => slice.by === 'hand' || placed.has(slice.id));
  const old = project.slices.filter((slice) => slice.by !== 'hand' && !placed.has(slice.id));
  const used = new Set([
    ...project.slices.map((s) => s.id),
    ...project.pads.map((p) => p.slice),
    ...placed,
  ]);

  const fresh: NamedSlice[] = [];
  for (const raw of suggested) {
    const slice = giveWay(raw, kept);
    if (!slice) continue;
    const same = old.find((s) => Math.abs(s.landing - slice.landing) < sameLanding);
    if (same && !fresh.some((s) => s.id === same.id)) {
      const unmoved =
        same.start === slice.start && same.landing === slice.landing && same.end === slice.end;
      fresh.push(
        unmoved ? same : { ...same, start: slice.start, landing: slice.landing, end: slice.end },
      );
      continue;
    }
    const id = freshId('s', used);
    used.add(id);
    fresh.push({ id, start: slice.start, landing: slice.landing, end: slice.end, by: 'heard' });
  }
  const slices = [...kept, ...fresh].sort((a, b) => a.landing - b.landing);
  const unchanged =
    slices.length === project.slices.length && slices.every((s, i) => s === project.slices[i]);
  const heirs = new Map<string, string>();
  const alive = new Set(slices.map((slice) => slice.id));
  for (const gone of old) {
    if (alive.has(gone.id) || slices.length === 0) continue;
    const holder = slices.findLast((s) => s.landing <= gone.landing + sameLanding) ?? slices[0];
    if (holder) heirs.set(gone.id, holder.id);
  }
  return { slices: unchanged ? project.slices : slices, heirs };
}

/** A suggestion cut back to leave kept slices whole; null when it lands in one or nothing is left. */
function giveWay(slice: Slice, kept: readonly NamedSlice[]): Slice | null {
  let { start, end } = slice;
  for (const k of kept) {
    if (slice.landing >= k.start - sameLanding && slice.landing < k.end) return null;
    if (k.end <= slice.landing) start = Math.max(start, k.end);
    else if (k.start > slice.landing) end = Math.min(end, k.start);
  }
  return end - slice.landing >= sameLanding ? { start, landing: slice.landing, end } : null;
}
