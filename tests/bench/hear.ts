/**
 * `npm run bench hear`: how well takes are heard, on the check set of tests/perform, beside general
 * libraries in the same call. Options: `--set dev|check` (check), `--only WORD` (names that contain
 * it), `--ours` (without the others), `--each` (a line for each recording), `--write` (into hear.md).
 */
import { readFileSync, writeFileSync } from 'node:fs';
import { cpus } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { readWav } from '../../shared/take/wav-read.ts';
import { folderOf, makeSet } from '../perform/make.ts';
import { asOldRecord, type SetName, sessionsOf } from '../perform/sets.ts';
import type { Truth } from '../perform/truth.ts';
import { countCorrections, type Judged, judge } from './hear/judge.ts';
import { listeners } from './hear/listeners.ts';
import { tableOf } from './hear/table.ts';

const { values } = parseArgs({
  options: {
    set: { type: 'string', default: 'check' },
    only: { type: 'string', default: '' },
    ours: { type: 'boolean', default: false },
    each: { type: 'boolean', default: false },
    write: { type: 'boolean', default: false },
  },
});
const set: SetName = values.set === 'dev' ? 'dev' : 'check';
const folder = folderOf(set);
console.error(`Recordings of the ${set} set in ${folder}`);
makeSet(set, folder, values.only, true, (truth) => console.error(`made ${truth.name}`));

const all = values.ours ? listeners().slice(0, 1) : listeners();
const results = new Map<string, Judged[]>(all.map((listener) => [listener.name, []]));
const names = [...sessionsOf(set)]
  .flatMap((session) => [session.name, asOldRecord(session).name])
  .filter((name) => name.includes(values.only));
for (const name of names) {
  const truth = JSON.parse(readFileSync(join(folder, `${name}.json`), 'utf8')) as Truth;
  const file = join(folder, `${name}.wav`);
  const { audio } = readWav(readFileSync(file), name);
  for (const listener of all) {
    const start = process.cpuUsage();
    const heard = listener.listen(audio, file);
    const { user, system } = process.cpuUsage(start);
    const judged = judge(truth, heard, (user + system) / 1e6);
    // Corrections are counted on the recordings as they are, not on the old records.
    const corrections = heard.beats && !judged.old ? countCorrections(truth, heard) : undefined;
    results
      .get(listener.name)
      ?.push({ ...judged, ...(corrections !== undefined && { corrections }) });
    if (values.each && listener === all[0]) {
      const show = (value: number | undefined): string => value?.toFixed(3) ?? '-';
      const { onset50, onset10, beat } = judged;
      console.log(
        `${name.padEnd(16)} onsets ${show(onset50)} ${show(onset10)}  beats ${show(beat)}  corrections ${corrections ?? '-'}  phrases ${show(judged.phrase3)}  key ${show(judged.key)}  cents ${show(judged.cents)}  ${judged.took.toFixed(2)} s`,
      );
    }
  }
  if (!values.each) console.error(name);
}
const table = tableOf(results);
const heading = `${names.length} recordings of the ${set} set (half of them as an old record), ${new Date().toISOString().slice(0, 10)}, Node ${process.version}, ${cpus()[0]?.model ?? 'unknown processor'}`;
console.log(`${heading}\n\n${table}`);
if (values.write) {
  const limits = readFileSync(new URL('hear/limits.md', import.meta.url), 'utf8');
  const text = `# How well takes are heard\n\n\`npm run bench hear -- --write\`: ${heading}.\n\nThe recordings are made by tests/perform, with exact truth; the check set is looked at for reports only.\nThe goals were set on other recordings, of people's own playing, that we never see. Corrections are\ncounted by a scripted person from left to right; a list without re-inference is edited by hand.\n\n${table}\n\n${limits}`;
  writeFileSync(new URL('hear.md', import.meta.url), text);
}
