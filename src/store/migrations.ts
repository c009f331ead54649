/**
 * How documents of older versions become the newest. Step n turns version n into n + 1; there are no
 * gaps, so the newest version is one more than the number of steps.
 */
type Step = (old: Record<string, unknown>) => Record<string, unknown>;

const steps: readonly Step[] = [];

export const newestVersion = steps.length + 1;

/** Brings a document to the newest version. One without a version that makes sense counts as the newest. */
export function migrate(document: Record<string, unknown>): Record<string, unknown> {
  const version = document.version;
  const from = typeof version === 'number' && version >= 1 ? Math.floor(version) : newestVersion;
  return steps
    .slice(from - 1)
    .reduce((now, step, i) => ({ ...step(now), version: from + i + 1 }), document);
}
