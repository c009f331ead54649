import { createHash } from 'node:crypto';
import { join, resolve } from 'node:path';
import { renderDemo } from '../../demo/demo-take.ts';
import { demoNames } from '../../demo/names.ts';
import { hearTake, tempoOf } from '../../shared/cut/hear-take.ts';
import { straighten } from '../../shared/loop/straighten.ts';
import { writeProjectZip } from '../../shared/pack/project-zip.ts';
import { type Audio, secondsOf } from '../../shared/take/audio.ts';
import { writeWav } from '../../shared/take/wav-write.ts';
import type { SourceFile } from '../store/project.ts';
import { writeProject } from '../store/project-file.ts';
import { watchDeadMemory } from './dead-memory.ts';
import { demoProject } from './demo-project.ts';
import { heardJson, writeJson } from './heard-json.ts';
import { renderParts } from './loop.ts';
import type { OpenProject } from './open-project.ts';
import { writePack } from './pack.ts';
import { partOf, terminalProgress } from './progress.ts';
import type { Verb } from './verb.ts';
import { checkWritableIn, type Output, writeFiles } from './write-files.ts';

export const demo: Verb = {
  help: `unclicked demo --to DIR

Makes the demo take and its stems and does the whole job on them: hears, cuts, straightens, flips,
renders and packs. Prints where everything lies.

  --force   overwrite what is there`,
  options: { to: { type: 'string' }, force: { type: 'boolean' } },
  run: async (given) => {
    const to = given.need('to', 'which folder the demo goes to');
    if (given.words.length > 0) given.fail(`demo knows no ${given.words[0]}`);
    const force = given.flag('force');
    const { title } = demoNames;
    const at = (...path: string[]) => join(resolve(to), ...path);
    checkWritableIn(to, [at(`${title}.wav`)], force);

    const progress = terminalProgress();
    const { mix, stems, truth } = renderDemo(partOf(progress, 0, 0.3));
    const recordings = [{ label: title, audio: mix }, ...stems].map(({ label, audio }) => {
      const bytes = writeWav(audio, { bits: '24' });
      return { label, audio, bits: 24, float: false, bytes: () => bytes } as const;
    });
    const heard = hearTake(mix, {
      stems: stems.map((stem) => stem.audio),
      progress: partOf(progress, 0.3, 0.2),
    });
    const [takeFile, ...stemFiles] = recordings.map(({ label, audio, bytes }) =>
      sourceFile(`${label}.wav`, audio, bytes()),
    );
    const project = demoProject(
      title,
      takeFile,
      stemFiles.map((file, i) => ({ ...file, label: stems[i].label, variant: null })),
      heard,
    );
    const [take, ...parts] = recordings;
    const open: OpenProject = { project, take, stems: parts };

    const wav = (audio: Audio) => writeWav(audio, { bits: '24' });
    const outputs: (Output & { what: string })[] = [
      { what: 'take', path: at(`${title}.wav`), bytes: take.bytes() },
      ...parts.map((part) => ({
        what: `stem ${part.label}`,
        path: at('stems', `${part.label}.wav`),
        bytes: part.bytes(),
      })),
      { what: 'truth', path: at('truth.json'), bytes: writeJson({ ...truth }) },
      {
        what: 'heard',
        path: at('heard.json'),
        bytes: writeJson(heardJson(mix, heard, project.cuts)),
      },
    ];
    const audios = recordings.map((recording) => recording.audio);
    const bpm = Math.round(tempoOf(heard.beats)?.medianBpm ?? 60);
    const straight = { bpm, lead: 0, steady: 100, tighten: 0, grid: '16', swing: 50 } as const;
    straighten(
      audios,
      heard.beats,
      heard.onsets,
      straight,
      partOf(progress, 0.5, 0.2),
    ).outputs.forEach((audio, i) => {
      const name = recordings[i].label;
      const path = at('straightened', `${name}.wav`);
      outputs.push({ what: `straightened to ${bpm} bpm, ${name}`, path, bytes: wav(audio) });
    });
    for (const lane of project.lanes)
      renderParts(open, lane, heard).outputs.forEach((audio, i) => {
        const name = i === 0 ? 'mix' : recordings[i].label;
        const path = at('loops', lane.name, `${name}.wav`);
        outputs.push({ what: `loop ${lane.name}, ${name}`, path, bytes: wav(audio) });
      });
    outputs.push({
      what: 'project',
      path: at(`${title}.unclicked.zip`),
      bytes: writeProjectZip(
        writeProject(project),
        [
          { hash: takeFile.hash, bytes: take.bytes },
          ...parts.map((part, i) => ({ hash: stemFiles[i].hash, bytes: part.bytes })),
        ],
        project.changed,
      ),
    });
    const pack = at(`${title} pack.zip`);
    checkWritableIn(to, [pack], force);
    const lanes = project.lanes.map((lane) => join('loops', lane.name));
    await writeFiles(
      outputs,
      force,
      ['.', 'stems', 'straightened', ...lanes].map((folder) => at(folder)),
    );
    await writePack(open, heard, {
      to: pack,
      wishes: {},
      force,
      progress: partOf(progress, 0.8, 0.2),
      clear: watchDeadMemory(),
    });
    const lines = [...outputs, { what: 'pack', path: pack }].map(
      ({ what, path }) => `${what}: ${path}`,
    );
    process.stdout.write(`${lines.join('\n')}\n`);
  },
};

function sourceFile(name: string, audio: Audio, bytes: Uint8Array): SourceFile {
  return {
    hash: createHash('sha256').update(bytes).digest('hex'),
    name,
    sampleRate: audio.sampleRate,
    channels: audio.channels.length,
    seconds: secondsOf(audio),
  };
}
