import { basename, dirname, extname, join } from 'node:path';
import type { Audio } from '../../shared/take/audio.ts';
import { bitsLike, type WavBits, writeWav } from '../../shared/take/wav-write.ts';
import { noteClipping, type Stored } from './clipping.ts';
import type { AudioFile } from './read-files.ts';
import { spareInputs } from './spared-inputs.ts';
import type { Given } from './verb.ts';
import { checkWritable, checkWritableIn, type Output, writeFiles } from './write-files.ts';

/** How samples may be stored. */
export const bitChoices: readonly WavBits[] = ['16', '24', '32f'];

/**
 * Where the outputs of several inputs go: one input to the file `to`, several into the folder `to` under
 * their own names. Checks that all can be written.
 *
 * @param beside what else is read
 */
export function placesFor(
  given: Given,
  to: string,
  inputs: readonly string[],
  beside: readonly (string | undefined)[] = [],
): string[] {
  const force = given.flag('force');
  if (inputs.length === 1) {
    spareInputs(given, [to], [...inputs, ...beside]);
    checkWritable(to, force);
    return [to];
  }
  const names = inputs.map((path) => `${basename(path, extname(path))}.wav`);
  const twice = names.find((name, i) => names.indexOf(name) !== i);
  if (twice) given.fail(`Two inputs are called ${twice}, and would overwrite each other in ${to}`);
  const places = names.map((name) => join(to, name));
  spareInputs(given, places, [...inputs, ...beside]);
  checkWritableIn(to, places, force);
  return places;
}

/** Writes each output as its input was stored, or as `--bits` says. */
export async function writeParts(
  given: Given,
  places: readonly string[],
  inputs: readonly AudioFile[],
  outputs: readonly Audio[],
): Promise<void> {
  const bits = given.choice('bits', bitChoices);
  const stored = outputs.map((audio, i): Stored => {
    return { path: places[i], audio, bits: bits ?? bitsLike(inputs[i]) };
  });
  const files = stored.map(
    ({ path, audio, bits }): Output => ({ path, bytes: writeWav(audio, { bits }) }),
  );
  const folders = places.length > 1 ? [dirname(places[0])] : [];
  await writeFiles(files, given.flag('force'), folders);
  noteClipping(stored);
}
