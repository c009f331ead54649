import { createSignal, type JSX, Match, Show, Switch } from 'solid-js';
import { clearFixes } from '../../store/beat-commands.ts';
import { clearPads } from '../../store/pad-commands.ts';
import { copyBar, removePlacements, repeatPlacements } from '../../store/placement-commands.ts';
import { deleteSlices } from '../../store/slice-commands.ts';
import { Margin } from '../margin/margin.tsx';
import { usePage } from '../page/context.ts';
import { chosenPlacements } from '../page/selecting.ts';
import { BeatDeeds, BeatSentence, type Reach } from './beat-sentence.tsx';
import { Deed } from './deed.tsx';
import { NothingHeard, useLack, useOneSlice } from './nothing-heard.tsx';
import { LineSentence, PadSentence, PlacementSentence } from './other-sentences.tsx';
import { SliceSentence } from './slice-sentence.tsx';
import { Tapping } from './tapping.tsx';
import { TuningDeeds } from './tuning-deeds.tsx';
import './sentence.css';

const splitWords = {
  'play head': 'split at the play head',
  mark: 'split here',
  attack: 'split',
} as const;

/** What is selected, said in a sentence whose underlined values are its controls, and what can be done with it. */
export function Sentence() {
  const { desk, actions, lane, tapping, setTapping, setOverlay } = usePage();
  const { store } = desk;
  const lack = useLack();
  const oneSlice = useOneSlice();
  const selection = () => store.session.selection;
  const kind = () => selection().kind;
  /** It is kept while one beat after the other is chosen. */
  const [reach, setReach] = createSignal<Reach>('on');
  /** The bar of the first chosen word onto the bar after it. */
  const copyBarOn = () => {
    const now = lane();
    const project = store.project();
    const [first] = project ? chosenPlacements(project, selection()) : [];
    if (!now || !first) return;
    const bar = Math.floor(first.at / now.beatsPerBar);
    store.edit(copyBar(now.id, bar, bar + 1));
  };
  const line = (say: JSX.Element, deeds: JSX.Element) => (
    <>
      <p class="said">{say}</p>
      <div class="deeds">{deeds}</div>
    </>
  );
  return (
    <section class="sentence" aria-label="Of what is selected">
      <Switch
        fallback={line(
          <Show
            when={lack()}
            fallback={
              <span class="note">
                {store.project()
                  ? 'Press a word or its pad to hear it. Choose a line by its number, and set it on the lane.'
                  : 'What you press is told here in a sentence; its underlined words are what you can change.'}
              </span>
            }
          >
            {(what) => <NothingHeard lack={what()} />}
          </Show>,
          <Show when={store.heard()}>
            <Show when={lack() === 'attacks'}>
              <Deed words="make one slice" main do={oneSlice} />
            </Show>
            <Show
              when={lack() === 'sound'}
              fallback={
                <Deed
                  words="tap the beat along"
                  keys="Shift T"
                  main={lack() === 'beats'}
                  do={() => setTapping(true)}
                />
              }
            >
              <Deed words="open another" main do={() => void actions.open()} />
            </Show>
            <Show when={lack() !== 'sound'}>
              <Deed words="tuning" keys="Shift U" do={() => setOverlay('tuner')} />
            </Show>
            <Show when={store.project()?.fixes.length}>
              <Deed words="forget all corrections" do={() => store.edit(clearFixes())} />
            </Show>
          </Show>,
        )}
      >
        <Match when={tapping()}>
          <Tapping />
        </Match>
        <Match when={kind() === 'slices'}>
          {line(
            <SliceSentence />,
            <>
              <Deed words="set on the lane" keys="Shift N" main do={actions.toLane} />
              <Deed words="hear" keys="Enter" do={actions.hear} />
              <Deed
                words={splitWords[actions.splitsAt()]}
                keys="Shift S"
                do={() => actions.split()}
              />
              <Deed words="join" keys="Shift J" do={actions.join} />
              <Deed words="the next too" keys="Shift →" do={actions.chooseNext} />
              <Deed
                words="delete"
                do={() => {
                  const now = selection();
                  if (now.kind === 'slices') store.edit(deleteSlices(now.ids));
                  store.setSession({ selection: { kind: 'nothing' } });
                }}
              />
            </>,
          )}
        </Match>
        <Match when={kind() === 'pads'}>
          {line(
            <PadSentence />,
            <>
              <TuningDeeds />
              <Deed
                words="clear"
                do={() => {
                  const now = selection();
                  if (now.kind === 'pads') store.edit(clearPads(now.places));
                }}
              />
            </>,
          )}
        </Match>
        <Match when={kind() === 'placements'}>
          {line(
            <PlacementSentence />,
            <>
              <Deed
                words="repeat"
                do={() => {
                  const now = selection();
                  if (now.kind === 'placements')
                    store.edit(repeatPlacements(now.lane, now.ids, 1, 1));
                }}
              />
              <Deed words="copy this bar on" do={copyBarOn} />
              <TuningDeeds />
              <Deed
                words="remove"
                keys="Delete"
                do={() => {
                  const now = selection();
                  if (now.kind === 'placements') store.edit(removePlacements(now.lane, now.ids));
                  store.setSession({ selection: { kind: 'nothing' } });
                }}
              />
            </>,
          )}
        </Match>
        <Match when={kind() === 'phrases'}>
          {line(
            <LineSentence />,
            <>
              <Deed words="make a straight loop" keys="Shift L" main do={actions.straight} />
              <Deed words="hear" keys="Enter" do={actions.hear} />
              <Deed words="round and round" keys="Shift R" do={actions.playRound} />
              <Deed words="the next too" keys="Shift Enter on its number" do={actions.chooseNext} />
              <Deed words="tuning" keys="Shift U" do={() => setOverlay('tuner')} />
              <Show when={actions.returns().length > 0}>
                <Deed words="choose its returns too" do={actions.chooseReturns} />
              </Show>
              <span class="kept">
                <span class="note">fill row</span>
                {[1, 2, 3, 4].map((row) => (
                  <Deed words={String(row)} do={() => actions.fillRow(row - 1)} />
                ))}
              </span>
            </>,
          )}
        </Match>
        <Match when={kind() === 'beat'}>
          {line(
            <BeatSentence reach={reach()} setReach={setReach} />,
            <BeatDeeds reach={reach()} />,
          )}
        </Match>
      </Switch>
      <Margin />
    </section>
  );
}
