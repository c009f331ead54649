import { createMemo, Show } from 'solid-js';
import { changePlacements, type PlacementSettings } from '../../store/placement-commands.ts';
import { usePage } from '../page/context.ts';
import { longName } from '../page/naming.ts';
import { agreed, chosenPads, chosenPlacements } from '../page/selecting.ts';
import { keyLabel } from '../rows/keys.ts';
import { ChoiceValue } from './choice-value.tsx';
import { Fades } from './fades.tsx';
import { NumberValue } from './number-value.tsx';
import { PadValues } from './pad-values.tsx';
import { SoundValues } from './sound-values.tsx';
import { createSweep } from './sweep.ts';
import { counted, figure, opening } from './words.ts';

/** The sentence of the chosen pads. */
export function PadSentence() {
  const { desk, names } = usePage();
  const pads = createMemo(() => {
    const project = desk.store.project();
    return project ? chosenPads(project, desk.store.session.selection) : [];
  });
  const slices = createMemo(
    () =>
      desk.store.project()?.slices.filter((one) => pads().some((pad) => pad.slice === one.id)) ??
      [],
  );
  return (
    <Show when={pads()[0]} fallback="This pad is empty: carry a slice here from the sheet.">
      {(first) => (
        <>
          {pads().length > 1
            ? `${pads().length} pads play, `
            : `Pad ${keyLabel(first(), null)} plays ${longName(names().get(first().slice))}, `}
          <PadValues pads={pads()} /> <Fades slices={slices()} />
        </>
      )}
    </Show>
  );
}

/** "bar 2, beat 3½": a position in the lane. */
export function positionWords(at: number, beatsPerBar: number): string {
  const bar = Math.floor(at / beatsPerBar) + 1;
  const beat = at - (bar - 1) * beatsPerBar + 1;
  return `bar ${bar}, beat ${figure(beat, 2)}`;
}

/** The sentence of the chosen words of the lane. */
export function PlacementSentence() {
  const { desk, names, lane } = usePage();
  const { store } = desk;
  const sweep = createSweep(store);
  const chosen = createMemo(() => {
    const project = store.project();
    return project ? chosenPlacements(project, store.session.selection) : [];
  });
  const edit = (patch: Partial<PlacementSettings>) =>
    changePlacements(
      lane()?.id ?? '',
      chosen().map((one) => one.id),
      patch,
    );
  return (
    <Show when={chosen()[0]}>
      {(first) => (
        <>
          {chosen().length > 1
            ? `${opening(counted(chosen().length, 'word'))} of the lane sound `
            : `${opening(longName(names().get(first().slice)))} on ${positionWords(first().at, lane()?.beatsPerBar ?? 4)} sounds `}
          <SoundValues items={chosen()} change={(patch, kind) => sweep(edit(patch), kind)} />, for{' '}
          <NumberValue
            name="length in beats"
            value={agreed(chosen(), (one) => one.length ?? 0)}
            min={0}
            max={64}
            step={0.25}
            stride={1}
            show={(beats) =>
              beats === 0 ? 'as long as it is' : `${figure(beats, 2)} beat${beats === 1 ? '' : 's'}`
            }
            change={(beats, kind) => sweep(edit({ length: beats > 0 ? beats : null }), kind)}
            after=","
          />{' '}
          and rings{' '}
          <ChoiceValue
            name="how it rings"
            value={agreed(chosen(), (one) => one.rings)}
            choices={[
              { value: 'next', words: 'till the next attack' },
              { value: 'out', words: 'out over what follows' },
            ]}
            change={(value) => store.edit(edit({ rings: value === 'out' ? 'out' : 'next' }))}
            after="."
          />
        </>
      )}
    </Show>
  );
}

/** The sentence of the chosen lines. */
export function LineSentence() {
  const { desk, names } = usePage();
  const { store } = desk;
  const lines = () =>
    store.session.selection.kind === 'phrases'
      ? [...store.session.selection.indexes].sort((a, b) => a - b)
      : [];
  const subject = () => {
    const numbers = lines().map((line) => line + 1);
    const [first = 1] = numbers;
    const last = numbers[numbers.length - 1] ?? first;
    if (numbers.length < 2) return `Line ${first}`;
    if (last - first === numbers.length - 1) return `Lines ${first} to ${last}`;
    return `Lines ${numbers.slice(0, -1).join(', ')} and ${last}`;
  };
  const words = () =>
    [...names().values()].filter((name) => lines().includes(name.line - 1)).length;
  const seconds = () =>
    lines().reduce((sum, line) => {
      const phrase = store.heard()?.phrases[line];
      return phrase ? sum + phrase.end - phrase.start : sum;
    }, 0);
  return (
    <>
      {subject()} {lines().length > 1 ? 'last' : 'lasts'} {figure(seconds(), 1)} s, in{' '}
      {counted(words(), 'slice')}.
    </>
  );
}
