import { join } from 'node:path';
import { hearTake } from '../../shared/cut/hear-take.ts';
import type { Beat, Onset } from '../../shared/hear/heard.ts';
import type { Lane } from '../../shared/loop/lane.ts';
import type { LaneLanding } from '../../shared/loop/material.ts';
import { renderLane } from '../../shared/loop/render.ts';
import type { Progress } from '../../shared/math/progress.ts';
import { gainFor, type LoopPart, loopFile } from '../../shared/pack/loop-files.ts';
import { loopTitles } from '../../shared/pack/loop-names.ts';
import { uniqueNames } from '../../shared/pack/names.ts';
import { loudest, type PackWishes, softest } from '../../shared/pack/pack-wishes.ts';
import type { Audio } from '../../shared/take/audio.ts';
import { narrow } from '../../shared/take/channels.ts';
import { bitsLike } from '../../shared/take/wav-write.ts';
import type { Project } from '../store/project.ts';
import { noteClipping } from './clipping.ts';
import { loosePaths, type OpenProject, openProject, partsOf } from './open-project.ts';
import { bitChoices } from './parts-out.ts';
import { partOf, terminalProgress } from './progress.ts';
import { spareInputs } from './spared-inputs.ts';
import type { Given, Verb } from './verb.ts';
import { checkWritable, checkWritableIn, writeFiles } from './write-files.ts';

export const loop: Verb = {
  help: `unclicked loop PROJECT --to OUT [--stems]

Renders a lane of a project as the page does: the mix to a file, with --stems mix and stems to a folder.

  --lane NAME|N      which lane, by name or by place from 1 (the first)
  --bits 16|24|32f   as the project says, or else as the take is stored
  --rate N           sample rate: as the project says, or else the take's
  --loudness N       LUFS that the mix is brought to, its stems by as much: as the project
                     says, or else as loud as it is
  --force            overwrite what is there`,
  options: {
    to: { type: 'string' },
    stems: { type: 'boolean' },
    lane: { type: 'string' },
    bits: { type: 'string' },
    rate: { type: 'string' },
    loudness: { type: 'string' },
    force: { type: 'boolean' },
  },
  run: async (given) => {
    const path = given.only('project file');
    const to = given.need('to', 'where the loop goes');
    const force = given.flag('force');
    const bits = given.choice('bits', bitChoices);
    const sampleRate = given.whole('rate', 8000, 192_000);
    const loudness = given.number('loudness', softest, loudest);
    const withStems = given.flag('stems');
    if (!withStems) {
      spareInputs(given, [to], [path]);
      checkWritable(to, force);
    }
    const open = await openProject(path);
    const lane = laneOf(open.project, given);
    const labels = ['mix', ...open.project.stems.map((stem) => stem.label)];
    const names = uniqueNames(withStems ? fileNames(open.project) : []);
    const places = withStems ? names.map((name) => join(to, name)) : [to];
    spareInputs(given, places, [path, ...loosePaths(open)]);
    if (withStems) checkWritableIn(to, places, force);

    const progress = terminalProgress();
    // All of it, as for a pack: the key that the files state depends on the phrases too.
    const { onsets, beats, key } = hearTake(open.take.audio, {
      fixes: open.project.fixes,
      progress: partOf(progress, 0, 0.4),
    });
    // Without its stems the mix alone decides how it is warped, as on the page.
    const alone = withStems ? open : { ...open, stems: [] };
    const { outputs, landings } = renderParts(
      alone,
      lane,
      { onsets, beats },
      partOf(progress, 0.4, 0.6),
    );
    const recordings = [open.take, ...open.stems];
    const { name, changed, take, pack: kept } = open.project;
    const origin = { name, changed, take, heard: { key } };
    const wishes: PackWishes = {
      ...kept,
      ...(bits && { bits }),
      ...(sampleRate && { sampleRate }),
      ...(loudness !== undefined && { loudness }),
    };
    const gain = gainFor(outputs[0], wishes);
    const parts = outputs.map(
      (audio, i): LoopPart => ({
        audio,
        part: labels[i],
        variant: open.project.stems[i - 1]?.variant ?? null,
        bits: wishes.bits ?? bitsLike(recordings[i]),
        gain,
      }),
    );
    const titles = loopTitles(parts, lane, origin, wishes);
    const files = parts.map((part, i) => loopFile(part, titles[i], lane, landings, origin, wishes));
    await writeFiles(
      files.map((file, i) => ({ path: places[i], bytes: file.bytes() })),
      force,
      withStems ? [to] : [],
    );
    noteClipping(files.map(({ sound, bits }, i) => ({ path: places[i], audio: sound, bits })));
  },
};

/** The lane's mix and stems, as many channels each as its recording has. */
export function renderParts(
  open: OpenProject,
  lane: Lane,
  heard: { readonly onsets: readonly Onset[]; readonly beats: readonly Beat[] },
  progress?: Progress,
): { outputs: Audio[]; landings: readonly LaneLanding[] } {
  const material = { ...heard, sources: partsOf(open), slices: open.project.slices };
  const { outputs, landings } = renderLane(material, lane, progress);
  const narrowed = [open.take, ...open.stems].map(({ audio }, i) =>
    narrow(outputs[i], audio.channels.length),
  );
  return { outputs: narrowed, landings };
}

/** Mix and stems by their labels; variants of one part are told apart. */
function fileNames({ stems }: Project): string[] {
  const named = stems.map(({ label, variant }) => (variant ? `${label} ${variant}` : label));
  return ['mix', ...named].map((name) => `${name}.wav`);
}

function laneOf(project: Project, given: Given): Lane {
  const wish = given.text('lane');
  const { lanes } = project;
  const found =
    wish === undefined
      ? lanes[0]
      : (lanes.find((lane) => lane.name === wish) ?? lanes[Number(wish) - 1]);
  if (found) return found;
  const names = lanes.map((lane) => lane.name).join(', ');
  return given.fail(
    lanes.length === 0
      ? 'The project has no lane; make one on the page'
      : `The project has no lane ${wish}; it has ${names}`,
  );
}
