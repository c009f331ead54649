import { hearTake } from '../../shared/cut/hear-take.ts';
import { secondsOf } from '../../shared/take/audio.ts';
import { compileLater } from './compile-later.ts';
import { checkFixes, readFixes } from './fixes-json.ts';
import { heardJson, writeJson } from './heard-json.ts';
import { terminalProgress } from './progress.ts';
import { readJson, readParts } from './read-files.ts';
import { spareInputs } from './spared-inputs.ts';
import type { Verb } from './verb.ts';
import { checkWritable, writeFiles } from './write-files.ts';

export const hear: Verb = {
  help: `unclicked hear TAKE [--stem FILE ...] [--fixes FILE] [--cuts 0..100] [--to FILE]

Hears a recording and prints JSON: onsets, beats, tempo, phrases, slices, tuning, key, loudness.

  --stem FILE    a stem on the take's timeline; may be given more than once
  --fixes FILE   corrections: { "fixes": [ { "beat": s }, { "notBeat": s }, { "one": s } ] }
  --cuts 0..100  few to many slices (50)
  --to FILE      write the JSON there instead
  --force        overwrite it`,
  options: {
    stem: { type: 'string', multiple: true },
    fixes: { type: 'string' },
    cuts: { type: 'string' },
    to: { type: 'string' },
    force: { type: 'boolean' },
  },
  run: async (given) => {
    const { take, stems } = given.takeAndStems();
    const cuts = given.number('cuts', 0, 100) ?? 50;
    const to = given.text('to');
    const fixesPath = given.text('fixes');
    if (to !== undefined) {
      spareInputs(given, [to], [take, ...stems, fixesPath]);
      checkWritable(to, given.flag('force'));
    }
    const fixes = fixesPath === undefined ? [] : readFixes(readJson(fixesPath), fixesPath);
    const [{ audio }, ...parts] = await readParts([take, ...stems]);
    checkFixes(fixes, secondsOf(audio), fixesPath);
    const progress = terminalProgress();
    compileLater();
    const stemAudio = parts.map((part) => part.audio);
    const heard = hearTake(audio, { stems: stemAudio, fixes, progress });
    const text = writeJson(heardJson(audio, heard, cuts));
    if (to === undefined) process.stdout.write(text);
    else await writeFiles([{ path: to, bytes: text }], given.flag('force'));
  },
};
