import { hearTuning } from '../../shared/hear/pitch/tuning.ts';
import { InputError } from '../../shared/math/input-error.ts';
import { shiftPitch } from '../../shared/warp/pitch.ts';
import { bitChoices, placesFor, writeParts } from './parts-out.ts';
import { partOf, terminalProgress } from './progress.ts';
import { type AudioFile, readParts } from './read-files.ts';
import type { Given, Verb } from './verb.ts';

/** Below this a tuning is a guess, and moving a take by it would do harm. */
const surest = 0.2;

export const tune: Verb = {
  help: `unclicked tune FILE [FILE ...] --to OUT [--a4 HZ]

Brings a recording, or several parts of one performance, to a tuning; length and attacks stay.

  --a4 HZ            the A that the first file is brought to (440)
  --semitones N      move by so much instead, -24 to 24; together with
  --cents N          hundredths of a semitone, -100 to 100
  --formants kept|moved  whether the resonances of voice and body stay (kept)
  --to OUT           a file for one input, a folder for several
  --bits 16|24|32f   as the input is stored, unless said here
  --force            overwrite what is there`,
  options: {
    a4: { type: 'string' },
    semitones: { type: 'string' },
    cents: { type: 'string' },
    formants: { type: 'string' },
    to: { type: 'string' },
    bits: { type: 'string' },
    force: { type: 'boolean' },
  },
  run: async (given) => {
    if (given.words.length === 0) given.fail('Name a recording (WAV, FLAC, MP3 or Ogg)');
    const to = given.need('to', 'where the result goes');
    const formants = given.choice('formants', ['kept', 'moved'] as const) ?? 'kept';
    const wished = wishedShift(given);
    const a4 = given.number('a4', 380, 500) ?? 440;
    given.choice('bits', bitChoices);
    const places = placesFor(given, to, given.words);
    const inputs = await readParts(given.words);
    const progress = terminalProgress();
    const shift = wished ?? shiftTo(inputs[0], a4);
    const outputs = shiftPitch(
      inputs.map((input) => input.audio),
      { ...shift, formants },
      partOf(progress, 0.1, 0.9),
    );
    await writeParts(given, places, inputs, outputs);
  },
};

/** The shift that was asked for in numbers, or null where the tuning decides. */
function wishedShift(given: Given): { semitones: number; cents: number } | null {
  const semitones = given.number('semitones', -24, 24);
  const cents = given.number('cents', -100, 100);
  if (semitones === undefined && cents === undefined) return null;
  if (given.text('a4') !== undefined) given.fail('--a4 does not go with --semitones or --cents');
  return { semitones: semitones ?? 0, cents: cents ?? 0 };
}

function shiftTo(file: AudioFile, a4: number): { semitones: number; cents: number } {
  const tuning = hearTuning(file.audio);
  if (tuning.confidence < surest)
    throw new InputError(
      `The tuning of ${file.path} can't be heard; say how far to move it with --cents.`,
    );
  return { semitones: 0, cents: 1200 * Math.log2(a4 / tuning.a4) };
}
