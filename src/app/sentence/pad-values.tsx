import type { Pad, PadPlay } from '../../../shared/cut/pad.ts';
import { changePads } from '../../store/pad-commands.ts';
import { usePage } from '../page/context.ts';
import { agreed } from '../page/selecting.ts';
import { ChoiceValue } from './choice-value.tsx';
import { SoundValues } from './sound-values.tsx';
import { createSweep } from './sweep.ts';

const plays: readonly { value: PadPlay; words: string }[] = [
  { value: 'through', words: 'through to its end' },
  { value: 'held', words: 'while pressed' },
  { value: 'repeats', words: 'round and round while pressed' },
];

const groups = [
  { value: '', words: 'nothing' },
  ...['A', 'B', 'C', 'D'].map((name) => ({ value: name, words: `group ${name}` })),
];

/** How pads sound: pitch, direction, level, how long they live and what cuts them off. */
export function PadValues(props: { readonly pads: readonly Pad[] }) {
  const { desk } = usePage();
  const sweep = createSweep(desk.store);
  return (
    <>
      <SoundValues
        items={props.pads}
        change={(patch, kind) => sweep(changePads(props.pads, patch), kind)}
      />
      ,{' '}
      <ChoiceValue
        name="how long it plays"
        value={agreed(props.pads, (pad) => pad.play)}
        choices={plays}
        change={(value) => {
          const play = plays.find((one) => one.value === value)?.value;
          if (play) desk.store.edit(changePads(props.pads, { play }));
        }}
        after=","
      />{' '}
      cut off by{' '}
      <ChoiceValue
        name="choke group"
        value={agreed(props.pads, (pad) => pad.choke ?? '')}
        choices={groups}
        change={(value) => desk.store.edit(changePads(props.pads, { choke: value || null }))}
        after="."
      />
    </>
  );
}
