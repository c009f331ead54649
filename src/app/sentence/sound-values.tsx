import { Show } from 'solid-js';
import type { Cents, Decibels, Semitones } from '../../../shared/math/units.ts';
import { agreed } from '../page/selecting.ts';
import { ChoiceValue } from './choice-value.tsx';
import { type ChangeKind, NumberValue } from './number-value.tsx';
import { centWords, levelWords, readSigned, semitoneWords } from './words.ts';

/** What pads and placements have in common: how the slice sounds. */
export interface Sounds {
  readonly semitones: Semitones;
  readonly cents: Cents;
  readonly level: Decibels;
  readonly direction: 'forwards' | 'backwards';
  readonly formants?: 'kept' | 'moved';
}

export interface SoundValuesProps {
  readonly items: readonly Sounds[];
  readonly change: (patch: Partial<Sounds>, kind: ChangeKind) => void;
}

/** "2 semitones lower and 4 cents sharp, forwards, at -1.5 dB": part of a sentence. */
export function SoundValues(props: SoundValuesProps) {
  return (
    <>
      <NumberValue
        name="pitch in semitones"
        value={agreed(props.items, (one) => one.semitones)}
        min={-24}
        max={24}
        step={1}
        stride={12}
        show={semitoneWords}
        read={readSigned}
        change={(semitones, kind) => props.change({ semitones }, kind)}
      />{' '}
      and{' '}
      <NumberValue
        name="tuning in cents"
        value={agreed(props.items, (one) => one.cents)}
        min={-100}
        max={100}
        step={1}
        show={centWords}
        read={readSigned}
        change={(cents, kind) => props.change({ cents }, kind)}
        after=","
      />{' '}
      <Show when={props.items.some((one) => one.semitones !== 0 || one.cents !== 0)}>
        <ChoiceValue
          name="voice and body"
          value={agreed(props.items, (one) => one.formants ?? 'moved')}
          choices={[
            { value: 'moved', words: 'voice moved along' },
            { value: 'kept', words: 'voice kept' },
          ]}
          change={(formants) =>
            props.change({ formants: formants === 'kept' ? 'kept' : 'moved' }, 'step')
          }
          after=","
        />{' '}
      </Show>
      <ChoiceValue
        name="direction"
        value={agreed(props.items, (one) => one.direction)}
        choices={[
          { value: 'forwards', words: 'forwards' },
          { value: 'backwards', words: 'backwards' },
        ]}
        change={(direction) =>
          props.change({ direction: direction === 'backwards' ? 'backwards' : 'forwards' }, 'step')
        }
        after=","
      />{' '}
      at{' '}
      <NumberValue
        name="level"
        value={agreed(props.items, (one) => one.level)}
        min={-60}
        max={12}
        step={0.5}
        stride={3}
        show={levelWords}
        change={(level, kind) => props.change({ level }, kind)}
      />
    </>
  );
}
