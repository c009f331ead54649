import { landsOnAttack } from '../cut/on-attack.ts';
import { noteFrequency, noteName } from '../hear/pitch/note.ts';
import type { Progress } from '../math/progress.ts';
import type { StatedFile, StatedSlice } from './manifest.ts';
import { defaultTemplates, uniqueNames } from './names.ts';
import type { PackInput } from './pack-input.ts';
import { bitsOf, type MakeEntry, type Part, soundFile } from './pack-part.ts';
import type { PackWishes } from './pack-wishes.ts';
import { atRate, cutOut, numberSlices, sliceName, sliceWav } from './slice-files.ts';
import type { ZipEntry } from './zip-write.ts';

/** Every slice of the mix, and of the stems where that was wished. */
export function* packSlices(
  input: PackInput,
  wishes: PackWishes,
  parts: readonly Part[],
  notes: ReadonlyMap<string, number>,
  entry: MakeEntry,
  progress?: Progress,
): Generator<ZipEntry, StatedSlice[]> {
  const numbered = numberSlices(input.take.audio, input.slices, input.heard.phrases);
  const template = wishes.sliceName ?? defaultTemplates.slice;
  const files = new Map<string, StatedFile[]>(numbered.map(({ slice }) => [slice.id, []]));
  const folders = uniqueNames(parts.map((p) => (p.variant ? `${p.label} ${p.variant}` : p.label)));
  const cut = wishes.stemSlices ? parts : parts.slice(0, 1);
  for (const [i, { recording, label, variant }] of cut.entries()) {
    const bits = bitsOf(wishes, recording);
    const titles = uniqueNames(
      numbered.map((packed) => sliceName(packed, folders[i], template, input.name)),
    );
    for (const [k, packed] of numbered.entries()) {
      progress?.((i + k / numbered.length) / cut.length, 'cutting slices');
      const sound = atRate(
        cutOut(recording.audio, packed.slice, landsOnAttack(packed.slice, input.heard.onsets)),
        wishes.sampleRate ?? recording.audio.sampleRate,
      );
      const file = `slices/${i === 0 ? '' : `${folders[i]}/`}${titles[k]}.wav`;
      files.get(packed.slice.id)?.push(soundFile(file, label, variant, sound, bits));
      yield entry(file, () => sliceWav(sound, packed, titles[k], bits, input, wishes));
    }
  }
  return numbered.map(({ slice, line, place, pitch }) => ({
    id: slice.id,
    line,
    place,
    start: slice.start,
    landing: slice.landing,
    end: slice.end,
    midiNote: notes.get(slice.id) ?? null,
    pitch: pitch && {
      note: pitch.note,
      name: noteName(pitch.note),
      cents: pitch.cents,
      hertz: noteFrequency(pitch.note + pitch.cents / 100),
    },
    files: files.get(slice.id) ?? [],
  }));
}
