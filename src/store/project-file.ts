import * as v from 'valibot';
import { InputError } from '../../shared/math/input-error.ts';
import {
  longestLine,
  longestText,
  loopWords,
  loudest,
  packings,
  sliceWords,
  softest,
  templateProblem,
} from '../../shared/pack/pack-wishes.ts';
import { gridDivisions } from '../../shared/time/grid.ts';
import { migrate, newestVersion } from './migrations.ts';
import type { Project } from './project.ts';

/**
 * The project file: one JSON document. Reading never fails on odd data: each field that makes no sense
 * is repaired or takes its default, each item that cannot be understood is left out, and `repairs` says
 * so in words. Only two things are refused: what is no project at all, and a newer version's file.
 */
export interface ReadProject {
  readonly project: Project;
  readonly repairs: readonly string[];
}

const number = (fallback: number, from = -1e9, until = 1e9) =>
  v.pipe(
    v.fallback(v.pipe(v.number(), v.finite()), fallback),
    v.transform((x) => Math.min(Math.max(x, from), until)),
  );
const moment = v.pipe(v.number(), v.finite(), v.minValue(0));
const word = v.pipe(v.string(), v.minLength(1), v.maxLength(1000));
/** A name of any length; of a very long one the first part is kept, never half a character. */
const name = v.pipe(
  v.string(),
  v.minLength(1),
  v.transform((text) => text.slice(0, 1000).replace(/[\uD800-\uDBFF]$/, '')),
);
const when = v.fallback(v.pipe(v.string(), v.isoTimestamp()), '1970-01-01T00:00:00.000Z');
const direction = v.fallback(v.picklist(['forwards', 'backwards']), 'forwards');
const pitch = {
  semitones: number(0, -48, 48),
  cents: number(0, -100, 100),
  level: number(0, -60, 24),
  formants: v.fallback(v.optional(v.picklist(['kept', 'moved'])), undefined),
};

const file = {
  hash: v.fallback(v.pipe(v.string(), v.regex(/^[0-9a-f]{64}$/)), ''),
  name: v.fallback(name, 'take.wav'),
  sampleRate: number(44100, 8000, 192000),
  channels: number(1, 1, 8),
  seconds: number(0, 0),
};

const stem = v.object({
  ...file,
  label: v.fallback(name, 'stem'),
  variant: v.fallback(v.nullable(v.string()), null),
});

const by = v.optional(v.picklist(['tapped', 'moved']));
const fix = v.union([
  v.object({ beat: moment, by }),
  v.object({ notBeat: moment }),
  v.object({ one: moment }),
  v.object({
    level: v.picklist(['double', 'half']),
    from: v.optional(moment),
    keep: v.optional(moment),
  }),
  v.object({ shift: v.picklist(['half', 'bar']), from: v.optional(moment) }),
  v.object({ free: moment }),
]);

const fade = v.optional(v.pipe(v.number(), v.finite(), v.minValue(0), v.maxValue(60)));
const slice = v.pipe(
  v.object({
    id: word,
    start: moment,
    landing: moment,
    end: moment,
    by: v.fallback(v.picklist(['heard', 'hand']), 'hand'),
    fadeIn: v.fallback(fade, undefined),
    fadeOut: v.fallback(fade, undefined),
  }),
  v.check((s) => s.start <= s.landing && s.landing < s.end),
);

const pad = v.object({
  row: v.pipe(v.number(), v.integer(), v.minValue(0), v.maxValue(3)),
  key: v.pipe(v.number(), v.integer(), v.minValue(0), v.maxValue(9)),
  slice: word,
  ...pitch,
  direction,
  play: v.fallback(v.picklist(['through', 'held', 'repeats']), 'through'),
  choke: v.fallback(v.nullable(word), null),
  note: v.fallback(
    v.nullable(v.pipe(v.number(), v.integer(), v.minValue(0), v.maxValue(127))),
    null,
  ),
});

const placement = v.object({
  id: word,
  slice: word,
  at: moment,
  length: v.fallback(v.nullable(v.pipe(v.number(), v.finite(), v.gtValue(0))), null),
  ...pitch,
  direction,
  rings: v.fallback(v.picklist(['next', 'out']), 'next'),
});

const lane = v.object({
  id: word,
  name: v.fallback(name, 'loop'),
  bars: v.pipe(number(4, 1, 64), v.transform(Math.round)),
  beatsPerBar: v.pipe(number(4, 1, 16), v.transform(Math.round)),
  beatUnit: v.fallback(v.picklist([1, 2, 4, 8, 16]), 4),
  bpm: number(90, 30, 300),
  steady: number(100, 0, 100),
  tighten: number(0, 0, 100),
  grid: v.fallback(v.picklist(gridDivisions), '16'),
  swing: number(50, 50, 80),
  source: v.variant('kind', [
    v.pipe(
      v.object({ kind: v.literal('straight'), from: moment, until: moment }),
      v.check((s) => s.from < s.until),
    ),
    v.object({ kind: v.literal('flip'), placements: v.unknown() }),
  ]),
});

const rest = undefined;
const line = v.fallback(v.optional(v.pipe(v.string(), v.maxLength(longestLine))), rest);
const text = v.fallback(v.optional(v.pipe(v.string(), v.maxLength(longestText))), rest);
const template = (words: readonly string[]) =>
  v.fallback(
    v.optional(
      v.pipe(
        v.string(),
        v.check((name) => templateProblem(name, words) === null),
      ),
    ),
    rest,
  );
const pack = v.object({
  title: line,
  artist: line,
  credits: text,
  terms: text,
  bits: v.fallback(v.optional(v.picklist(['16', '24', '32f'])), rest),
  sampleRate: v.fallback(
    v.optional(v.pipe(v.number(), v.integer(), v.minValue(8000), v.maxValue(192_000))),
    rest,
  ),
  loudness: v.fallback(
    v.optional(v.pipe(v.number(), v.minValue(softest), v.maxValue(loudest))),
    rest,
  ),
  stemSlices: v.fallback(v.optional(v.boolean()), rest),
  loopName: template(loopWords),
  sliceName: template(sliceWords),
  packing: v.fallback(v.optional(v.picklist(packings)), rest),
});

const frame = v.object({
  id: v.fallback(word, () => crypto.randomUUID()),
  name: v.fallback(name, 'Untitled'),
  created: when,
  changed: when,
  take: v.fallback(v.object(file), v.parse(v.object(file), {})),
  cuts: number(50, 0, 100),
  pack: v.fallback(v.optional(pack), undefined),
});

/** Reads a project from the text of its file. Throws InputError as `readProject` does. */
export function parseProject(text: string, name = 'The file'): ReadProject {
  let data: unknown;
  try {
    data = JSON.parse(text);
  } catch {
    throw new InputError(
      `${name} is not a project: it is no JSON; choose a file that was saved as a project.`,
    );
  }
  return readProject(data, name);
}

/** Reads a project from plain data. Throws InputError for what is no project, and for a newer version. */
export function readProject(data: unknown, name = 'The file'): ReadProject {
  if (typeof data !== 'object' || data === null || !('version' in data) || !('take' in data))
    throw new InputError(`${name} is not a project; choose a file that was saved as a project.`);
  const { version } = data;
  if (typeof version === 'number' && version > newestVersion)
    throw new InputError(
      `${name} was saved by a newer version of Unclicked (document ${version}, this one reads up to ${newestVersion}); reload the page to get the newest version.`,
    );
  const raw = migrate(data as Record<string, unknown>);
  const repairs: string[] = [];
  const head = v.parse(frame, raw);
  const list = <T extends v.GenericSchema>(key: string, schema: T, of: unknown = raw[key]) =>
    readList(schema, of, key, repairs);

  const slices = unique(list('slices', slice), (s) => s.id)
    .map(compact)
    .sort((a, b) => a.landing - b.landing);
  const named = new Set(slices.map((s) => s.id));
  const pads = unique(
    list('pads', pad)
      .filter((p) => named.has(p.slice))
      .map(compact),
    (p) => `${p.row} ${p.key}`,
  );
  const lanes = unique(list('lanes', lane), (l) => l.id).map((l) => {
    if (l.source.kind === 'straight') return { ...l, source: l.source };
    const placements = unique(
      list('placements', placement, l.source.placements)
        .filter((p) => named.has(p.slice))
        .map(compact),
      (p) => p.id,
    );
    return { ...l, source: { kind: 'flip' as const, placements } };
  });
  const { pack: wishes, ...known } = head;
  const project: Project = {
    version: 1,
    ...known,
    stems: unique(list('stems', stem), (s) => s.hash),
    fixes: list('fixes', fix).map(compact),
    slices,
    pads,
    lanes,
    ...(wishes && Object.keys(compact(wishes)).length > 0 ? { pack: compact(wishes) } : {}),
  };
  return { project, repairs };
}

/** A project as the text of its file. */
export function writeProject(project: Project): string {
  return `${JSON.stringify(project, null, 2)}\n`;
}

/** The items that can be understood; what is left out is counted in `repairs`. */
function readList<T extends v.GenericSchema>(
  schema: T,
  data: unknown,
  what: string,
  repairs: string[],
): v.InferOutput<T>[] {
  if (data === undefined) return [];
  if (!Array.isArray(data)) {
    repairs.push(`The ${what} could not be read and are left out.`);
    return [];
  }
  const good = data.flatMap((item) => {
    const result = v.safeParse(schema, item);
    return result.success ? [result.output] : [];
  });
  const lost = data.length - good.length;
  if (lost > 0)
    repairs.push(
      `${lost} of ${data.length} ${what} made no sense and ${lost === 1 ? 'is' : 'are'} left out.`,
    );
  return good;
}

function unique<T>(items: readonly T[], key: (item: T) => string): T[] {
  const seen = new Set<string>();
  return items.filter((item) => !seen.has(key(item)) && seen.add(key(item)));
}

/** Without the keys that hold nothing, as the document is written. */
function compact<T extends object>(item: T): T {
  return Object.fromEntries(Object.entries(item).filter(([, value]) => value !== undefined)) as T;
}
