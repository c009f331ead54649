import type { Lane } from '../loop/lane.ts';
import { renderLane } from '../loop/render.ts';
import type { Progress } from '../math/progress.ts';
import { writeLaneMidi } from './lane-midi.ts';
import { gainFor, loopFile } from './loop-files.ts';
import { loopTitles } from './loop-names.ts';
import { type StatedLane, type StatedLoopFile, stated } from './manifest.ts';
import { safeName } from './names.ts';
import type { PackInput } from './pack-input.ts';
import { bitsOf, type MakeEntry, type Part, soundFile } from './pack-part.ts';
import type { PackWishes } from './pack-wishes.ts';
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
  const { heard } = input;
  const sources = parts.map((part) => part.recording.audio);
  const { outputs, landings, ratios, seam } = renderLane(
    { sources, slices: input.slices, onsets: heard.onsets, beats: heard.beats },
    lane,
    progress,
  );
  const titles = loopTitles(
    parts.map(({ label, variant }) => ({ part: label, variant })),
    lane,
    input,
    wishes,
  );
  const gain = gainFor(outputs[0], wishes);
  const files: StatedLoopFile[] = [];
  for (const [i, { recording, label, variant }] of parts.entries()) {
    const part = { audio: outputs[i], part: label, variant, bits: bitsOf(wishes, recording), gain };
    const { sound, bits, loudness, bytes } = loopFile(
      part,
      titles[i],
      lane,
      landings,
      input,
      wishes,
    );
    const file = `loops/${folder}/${titles[i]}.wav`;
    files.push({ ...soundFile(file, label, variant, sound, bits), loudness: stated(loudness) });
    yield entry(file, bytes);
  }
  const midi = `loops/${folder}/${safeName(`${lane.name}, slices`)}.mid`;
  yield entry(midi, () => writeLaneMidi(lane, input.slices, landings, notes));
  const { name, bars, beatsPerBar, beatUnit, bpm, steady, tighten, grid, swing, source } = lane;
  return {
    ...{ name, kind: source.kind, bars, beatsPerBar, beatUnit, bpm, steady, tighten, grid, swing },
    ...{ seam, gain: Math.round(gain * 100) / 100, landings, ratios, files, midi },
  };
}
