import { hearTake, tempoOf } from '../../shared/cut/hear-take.ts';
import { straighten as straightenParts } from '../../shared/loop/straighten.ts';
import { secondsOf } from '../../shared/take/audio.ts';
import { gridDivisions } from '../../shared/time/grid.ts';
import { checkFixes, readFixes } from './fixes-json.ts';
import { bitChoices, placesFor, writeParts } from './parts-out.ts';
import { partOf, terminalProgress } from './progress.ts';
import { readJson, readParts } from './read-files.ts';
import type { Verb } from './verb.ts';

const day = 24 * 3600;

export const straighten: Verb = {
  help: `unclicked straighten TAKE [--stem FILE ...] [--bpm N] --to OUT

Sets a take on a fixed tempo by the beats heard in it; with stems OUT is a folder.

  --bpm N            beats a minute (the take's median tempo, rounded)
  --from S --until S the stretch, drawn to the nearest beats (the whole take)
  --lead S           seconds kept before the first beat (0)
  --steady 0..100    how firmly the beat keeps to the tempo (100)
  --tighten 0..100   how far the notes between beats move to the grid (0)
  --grid ${gridDivisions.join('|')}  the note value of the grid (16)
  --swing 50..80     share of the beat given to its first half (50)
  --fixes FILE       corrections of the beats, as for hear
  --bits 16|24|32f   as the input is stored, unless said here
  --force            overwrite what is there`,
  options: {
    stem: { type: 'string', multiple: true },
    bpm: { type: 'string' },
    from: { type: 'string' },
    until: { type: 'string' },
    lead: { type: 'string' },
    steady: { type: 'string' },
    tighten: { type: 'string' },
    grid: { type: 'string' },
    swing: { type: 'string' },
    fixes: { type: 'string' },
    to: { type: 'string' },
    bits: { type: 'string' },
    force: { type: 'boolean' },
  },
  run: async (given) => {
    const { take, stems } = given.takeAndStems();
    const to = given.need('to', 'where the result goes');
    const bpm = given.number('bpm', 10, 1000);
    const from = given.number('from', 0, day);
    const until = given.number('until', 0, day);
    if (from !== undefined && until !== undefined && until <= from)
      given.fail(`--until ${until} is not after --from ${from}`);
    const wish = {
      lead: given.number('lead', 0, 600) ?? 0,
      steady: given.number('steady', 0, 100) ?? 100,
      tighten: given.number('tighten', 0, 100) ?? 0,
      grid: given.choice('grid', gridDivisions) ?? '16',
      swing: given.number('swing', 50, 80) ?? 50,
      ...(from === undefined ? {} : { from }),
      ...(until === undefined ? {} : { until }),
    };
    given.choice('bits', bitChoices);
    const fixesPath = given.text('fixes');
    const fixes = fixesPath === undefined ? [] : readFixes(readJson(fixesPath), fixesPath);
    const paths = [take, ...stems];
    const places = placesFor(given, to, paths, [fixesPath]);
    const inputs = await readParts(paths);
    const audios = inputs.map((input) => input.audio);
    checkFixes(fixes, secondsOf(audios[0]), fixesPath);
    const progress = terminalProgress();
    const { beats, onsets } = hearTake(audios[0], {
      stems: audios.slice(1),
      fixes,
      progress: partOf(progress, 0, 0.5),
    });
    const tempo = tempoOf(beats);
    const { outputs } = straightenParts(
      audios,
      beats,
      onsets,
      // With no tempo there are no beats either, which straightening says in its own words.
      { ...wish, bpm: bpm ?? Math.round(tempo?.medianBpm ?? 60) },
      partOf(progress, 0.5, 0.5),
    );
    await writeParts(given, places, inputs, outputs);
  },
};
