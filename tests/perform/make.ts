/**
 * Makes test performances: WAV and, beside each, JSON with everything that is true of it (truth.ts).
 *
 *   npx tsx tests/perform/make.ts [--set dev|check] [--to DIR] [--only WORD]
 *
 * With no `--to` they go to out/perform/dev and out/perform/check, which are never
 * committed. `dev` is the set to tune on; `check` has other seeds and other excerpts and is for reports
 * only. `NAME-old.wav` is NAME as an old record gives it (mono, 7.5 kHz, room, hiss) with the same truth.
 * Everything is seeded: the same code and the same fluidsynth give the same bytes. Where fluidsynth and
 * Debian's FluidR3 bank are missing, our own synthesis plays (truth.sampled says which).
 *
 * In process, small and without fluidsynth: `record(smallSession('piano', 1))` gives `{ audio, truth }`.
 */
import { existsSync, mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { record } from './record.ts';
import { asOldRecord, type SetName, sessionsOf } from './sets.ts';
import type { Truth } from './truth.ts';
import { wav16 } from './wav-out.ts';

const cache = fileURLToPath(new URL('../../out/perform', import.meta.url));

export function folderOf(set: SetName): string {
  return join(cache, set);
}

/** Makes a set and says what is true of each recording; with `missing`, only what is not there yet. */
export function makeSet(
  set: SetName,
  folder: string,
  only = '',
  missing = false,
  say: (truth: Truth) => void = () => {},
): Truth[] {
  mkdirSync(folder, { recursive: true });
  const truths: Truth[] = [];
  for (const session of sessionsOf(set)) {
    for (const one of [session, asOldRecord(session)]) {
      const path = join(folder, one.name);
      if (!one.name.includes(only) || (missing && existsSync(`${path}.json`))) continue;
      const { audio, truth } = record(one);
      writeFileSync(`${path}.wav`, wav16(audio));
      writeFileSync(`${path}.json`, `${JSON.stringify(truth)}\n`);
      truths.push(truth);
      say(truth);
    }
  }
  return truths;
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  const { values } = parseArgs({
    options: { set: { type: 'string' }, to: { type: 'string' }, only: { type: 'string' } },
  });
  const sets = values.set === undefined ? (['dev', 'check'] as const) : [values.set as SetName];
  for (const set of sets) {
    makeSet(set, values.to ?? folderOf(set), values.only, false, (truth) => {
      const { name, seconds, onsets, beats, phrases } = truth;
      console.log(
        `${set} ${name}: ${seconds.toFixed(1)} s, ${onsets.length} onsets, ${beats.length} beats, ${phrases.length} phrases`,
      );
    });
  }
}
