/*
 * The published shape of `manifest.json`, as JSON Schema 2020-12. A pack carries it as
 * `manifest.schema.json`; a change of meaning takes a new version number.
 */

const number = { type: 'number' };
const text = { type: 'string' };
const seconds = { type: 'number', minimum: 0, description: "seconds of the take's own time" };
const share = { type: 'number', minimum: 0, maximum: 1 };
const percent = { type: 'number', minimum: 0, maximum: 100 };
const midi = { type: 'integer', minimum: 0, maximum: 127 };
const list = (items: object) => ({ type: 'array', items });
const orNull = (schema: { type: string }) => ({ ...schema, type: [schema.type, 'null'] });
/** An object that has all the keys named, and may have more. */
const object = (
  properties: Readonly<Record<string, object>>,
  optional: readonly string[] = [],
) => ({
  type: 'object',
  properties,
  required: Object.keys(properties).filter((key) => !optional.includes(key)),
});

const loudness = object({
  integrated: { ...orNull(number), description: 'LUFS, ITU-R BS.1770-4; null for silence' },
  range: { ...orNull(number), description: 'LU, EBU Tech 3342' },
  truePeak: { ...orNull(number), description: 'dBTP' },
});

const file = {
  file: { ...text, description: 'path from the manifest, with forward slashes' },
  part: { ...text, description: 'mix, or the label of the stem' },
  variant: orNull(text),
  sampleRate: { type: 'integer', minimum: 8000, maximum: 192000 },
  channels: { type: 'integer', minimum: 1, maximum: 8 },
  samples: { type: 'integer', minimum: 1, description: 'frames' },
  bits: { enum: ['8', '16', '24', '32', '32f', '64f'] },
};
const recording = {
  ...file,
  hash: { ...text, pattern: '^[0-9a-f]{64}$', description: 'SHA-256 of the file' },
};

const tuning = object({
  a4: { type: 'number', exclusiveMinimum: 0 },
  cents: number,
  confidence: share,
});

const lane = object({
  name: text,
  kind: { enum: ['straight', 'flip'] },
  bars: { type: 'integer', minimum: 1 },
  beatsPerBar: { type: 'integer', minimum: 1 },
  beatUnit: { type: 'integer', minimum: 1 },
  bpm: { type: 'number', exclusiveMinimum: 0 },
  steady: percent,
  tighten: percent,
  grid: { enum: ['4', '8', '8t', '16', '16t', '32'] },
  swing: { type: 'number', minimum: 50, maximum: 80 },
  gain: { ...number, description: 'dB that mix and stems were turned up or down by' },
  seam: object({
    levelStep: number,
    usualLevelStep: number,
    slopeStep: number,
    spectralChange: number,
    usualSpectralChange: number,
    verdict: text,
  }),
  landings: list(
    object({
      placement: orNull(text),
      source: { ...number, description: 'seconds of the take' },
      at: { ...number, description: 'seconds from the start of the loop' },
      grid: { ...number, description: 'where the grid would have it' },
    }),
  ),
  ratios: list(object({ from: number, until: number, ratio: { type: 'number', minimum: 0 } })),
  files: list(object({ ...file, loudness })),
  midi: text,
});

const slice = object({
  id: text,
  line: { type: 'integer', minimum: 0, description: 'phrase, from 1; 0 before the first' },
  place: { type: 'integer', minimum: 1 },
  start: seconds,
  landing: seconds,
  end: seconds,
  midiNote: orNull(midi),
  pitch: {
    ...object({ note: midi, name: text, cents: number, hertz: number }),
    type: ['object', 'null'],
  },
  files: list(object(file)),
});

export const manifestSchema = {
  $schema: 'https://json-schema.org/draft/2020-12/schema',
  title: 'Manifest of a pack',
  ...object({
    $schema: text,
    version: { const: 1 },
    madeWith: text,
    name: text,
    changed: text,
    middleC: { const: 'C4 (60)' },
    artist: orNull(text),
    credits: orNull(text),
    terms: orNull(text),
    take: object({
      ...recording,
      loudness,
      tuning,
      key: object({
        tonic: text,
        mode: { enum: ['major', 'minor', 'unclear'] },
        confidence: number,
      }),
    }),
    stems: list(object({ ...recording, tuning: { ...tuning, type: ['object', 'null'] } })),
    tempoMap: object({ file: text, beatsFile: text, clickFile: text }),
    beats: list(
      object({
        time: seconds,
        confidence: share,
        count: { type: 'integer', minimum: 1 },
        by: { enum: ['heard', 'tapped', 'moved'] },
      }),
    ),
    lanes: list(lane),
    slices: list(slice),
    warnings: list(text),
  }),
} as const;
