import { createMemo, Show } from 'solid-js';
import {
  changeLevel,
  changeWholeLevel,
  freeFrom,
  markOne,
  removeBeat,
  shiftBars,
  shiftBeats,
} from '../../store/beat-commands.ts';
import { usePage } from '../page/context.ts';
import { doubtBelow } from '../sheet/draw-sheet.ts';
import { ChoiceValue } from './choice-value.tsx';
import { Deed } from './deed.tsx';
import { clock, figure } from './words.ts';

/** How far a change of all beats goes: from the chosen one on, or all through the take. */
export type Reach = 'on' | 'all';

/** The sentence of the chosen beat. */
export function BeatSentence(props: {
  readonly reach: Reach;
  readonly setReach: (reach: Reach) => void;
}) {
  const { desk } = usePage();
  const { store } = desk;
  const found = createMemo(() => {
    const { selection } = store.session;
    const beats = store.heard()?.beats ?? [];
    if (selection.kind !== 'beat') return null;
    const at = beats.findIndex((beat) => Math.abs(beat.time - selection.time) < 1e-4);
    const beat = beats[at];
    const next = beats[at + 1];
    return beat ? { beat, bpm: next ? 60 / (next.time - beat.time) : null } : null;
  });
  const source = { heard: 'heard', tapped: 'tapped by you', moved: 'set by you' } as const;
  const doubtful = (confidence: number) => (confidence < doubtBelow ? ': is it right?' : '');
  return (
    <Show
      when={found()}
      fallback={desk.inferring() ? 'The beats are heard again …' : 'No beat is there any more.'}
    >
      {(one) => (
        <>
          Beat {one().beat.count} of its bar, at {clock(one().beat.time, 2)}, is{' '}
          {source[one().beat.by]}
          {one().beat.by === 'heard'
            ? `, ${figure(one().beat.confidence * 100)} % sure${doubtful(one().beat.confidence)}`
            : ''}
          {one().bpm ? `; ${figure(one().bpm ?? 0)} bpm` : ''}. The beats change{' '}
          <ChoiceValue
            name="how far beats change"
            value={props.reach}
            choices={[
              { value: 'on', words: 'from here on' },
              { value: 'all', words: 'all through' },
            ]}
            change={(value) => props.setReach(value === 'all' ? 'all' : 'on')}
            after="."
          />
        </>
      )}
    </Show>
  );
}

/** What can be said of the chosen beat, and of the beats as far as the sentence says. */
export function BeatDeeds(props: { readonly reach: Reach }) {
  const { desk, actions } = usePage();
  const { store } = desk;
  const beat = () => {
    const { selection } = store.session;
    return selection.kind === 'beat' ? selection.time : 0;
  };
  const from = () => (props.reach === 'on' ? beat() : undefined);
  const level = (to: 'double' | 'half') =>
    store.edit(props.reach === 'on' ? changeLevel(to, beat()) : changeWholeLevel(to, beat()));
  return (
    <>
      <Deed words="hear" do={actions.playTake} />
      <Deed words="it is the one" keys="Enter" do={() => store.edit(markOne(beat()))} />
      <Deed words="no beat here" keys="Delete" do={() => store.edit(removeBeat(beat()))} />
      <Deed words="twice as many" do={() => level('double')} />
      <Deed words="half as many" do={() => level('half')} />
      <Deed words="half a beat later" do={() => store.edit(shiftBeats(from()))} />
      <Deed words="bars a beat later" do={() => store.edit(shiftBars(from()))} />
      <Deed words="freely from here" do={() => store.edit(freeFrom(beat()))} />
    </>
  );
}
