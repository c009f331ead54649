import { measureLoudnessInFull } from '../hear/loudness.ts';
import type { Lane } from '../loop/lane.ts';
import { loopLength } from '../loop/length.ts';
import { renderLane } from '../loop/render.ts';
import type { Progress } from '../math/progress.ts';
import type { Audio } from '../take/audio.ts';
import { narrow, widen } from '../take/channels.ts';
import { type WavBits, writeWav } from '../take/wav-write.ts';
import { id3Key } from './id3-chunk.ts';
import { writeLaneMidi } from './lane-midi.ts';
import { loopChunks, resampleLoop } from './loop-files.ts';
import { type StatedLane, type StatedLoopFile, stated } from './manifest.ts';
import { defaultTemplates, fillTemplate, safeName, uniqueNames } from './names.ts';
import type { PackInput, PackWishes } from './pack-input.ts';
import { bitsOf, type MakeEntry, type Part, soundFile } from './pack-part.ts';
import type { ZipEntry } from './zip-write.ts';

/** One lane: its mix and stems, of one exact length, and the MIDI file that plays its slices. */
export function* packLane(
  input: PackInput,
  wishes: PackWishes,
  lane: Lane,
  folder: string,
  parts: readonly Part[],
  notes: ReadonlyMap<string, number>,
  entry: MakeEntry,
  progress?: Progress,
): Generator<ZipEntry, StatedLane> {
  const { take, heard } = input;
  const width = take.audio.channels.length;
  const sources = parts.map((part) => widen(part.recording.audio, width));
  const { outputs, landings, ratios, seam } = renderLane(
    { sources, slices: input.slices, onsets: heard.onsets, beats: heard.beats },
    lane,
    progress,
  );
  const rate = wishes.sampleRate ?? take.audio.sampleRate;
  const values = {
    take: input.name,
    lane: lane.name,
    bpm: Number(lane.bpm.toFixed(2)),
    key: heard.key.mode === 'unclear' ? '' : id3Key(heard.key),
    bars: lane.bars,
  };
  const titles = uniqueNames(
    parts.map(({ label, variant }) =>
      fillTemplate(wishes.loopName ?? defaultTemplates.loop, {
        ...values,
        stem: variant ? `${label} ${variant}` : label,
      }),
    ),
  );
  const files: StatedLoopFile[] = [];
  for (const [i, { recording, label, variant }] of parts.entries()) {
    const rendered = narrow(outputs[i], recording.audio.channels.length);
    const loop = resampleLoop(rendered, rate, loopLength(lane, rate));
    const loudness = measureLoudnessInFull(loop);
    const bits = bitsOf(wishes, recording);
    const file = `loops/${folder}/${titles[i]}.wav`;
    files.push({ ...soundFile(file, label, variant, loop, bits), loudness: stated(loudness) });
    const title = titles[i];
    const history = historyOf(loop, bits, lane);
    yield entry(file, () =>
      writeWav(loop, {
        bits,
        chunks: loopChunks(
          loop,
          { title, part: label, lane, landings, loudness, history },
          input,
          wishes,
        ),
      }),
    );
  }
  const midi = `loops/${folder}/${safeName(`${lane.name}, slices`)}.mid`;
  yield entry(midi, () => writeLaneMidi(lane, input.slices, landings, notes));
  const { name, bars, beatsPerBar, beatUnit, bpm, steady, tighten, grid, swing, source } = lane;
  return {
    ...{ name, kind: source.kind, bars, beatsPerBar, beatUnit, bpm, steady, tighten, grid, swing },
    ...{ seam, landings, ratios, files, midi },
  };
}

function historyOf(loop: Audio, bits: WavBits, lane: Lane): string[] {
  const word = bits === '32f' ? 32 : Number(bits);
  const mode =
    loop.channels.length === 1 ? 'mono' : loop.channels.length === 2 ? 'stereo' : 'multi';
  return [
    `A=PCM,F=${loop.sampleRate},W=${word},M=${mode},T=Unclicked; ${lane.source.kind} at ${lane.bpm} bpm`,
  ];
}
