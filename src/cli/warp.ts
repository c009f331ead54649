import { InputError } from '../../shared/math/input-error.ts';
import { toSamples } from '../../shared/time/time-map.ts';
import { warp } from '../../shared/warp/warp.ts';
import { compileLater } from './compile-later.ts';
import { readMap } from './map-json.ts';
import { bitChoices, placesFor, writeParts } from './parts-out.ts';
import { terminalProgress } from './progress.ts';
import { readJson, readParts } from './read-files.ts';
import type { Verb } from './verb.ts';

export const warpFiles: Verb = {
  help: `unclicked warp FILE [FILE ...] --map MAP --to OUT

Bends the time of a recording, or of several parts of one performance, attacks intact.

  --map FILE         { "anchors": [ { "from": s, "to": s } ], "seconds": s }
  --to OUT           a file for one input, a folder for several
  --bits 16|24|32f   as the input is stored, unless said here
  --force            overwrite what is there`,
  options: {
    map: { type: 'string' },
    to: { type: 'string' },
    bits: { type: 'string' },
    force: { type: 'boolean' },
  },
  run: async (given) => {
    if (given.words.length === 0) given.fail('Name a recording (WAV, FLAC, MP3 or Ogg)');
    const mapPath = given.need('map', 'which map to follow');
    const to = given.need('to', 'where the result goes');
    given.choice('bits', bitChoices);
    const { map, seconds } = readMap(readJson(mapPath), mapPath);
    const places = placesFor(given, to, given.words, [mapPath]);
    const inputs = await readParts(given.words);
    const length = toSamples(seconds, inputs[0].audio.sampleRate);
    if (length === 0)
      throw new InputError(
        `${seconds} s, as ${mapPath} has it, is less than a sample of the output; give a longer "seconds".`,
      );
    compileLater();
    const outputs = warp(
      inputs.map((input) => input.audio),
      map,
      length,
      terminalProgress(),
    );
    await writeParts(given, places, inputs, outputs);
  },
};
