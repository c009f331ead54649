import { For, Show } from 'solid-js';
import type { PlainBeat } from '../../sound/sound.ts';
import { learnNote } from '../../store/pad-commands.ts';
import { removeStem } from '../../store/project-commands.ts';
import { usePage } from '../page/context.ts';
import { chooseFiles } from '../page/files.ts';
import { ChoiceValue } from '../sentence/choice-value.tsx';
import { NumberValue } from '../sentence/number-value.tsx';
import { figure } from '../sentence/words.ts';
import { Latency } from './latency.tsx';
import { Leaf } from './leaf.tsx';
import { Meter } from './meter.tsx';

const beats: readonly { value: string; words: string; beat: PlainBeat }[] = [
  { value: 'nothing', words: 'nothing', beat: { kick: false, hat: false, click: false } },
  { value: 'kick', words: 'a kick', beat: { kick: true, hat: false, click: false } },
  { value: 'both', words: 'a kick and a hat', beat: { kick: true, hat: true, click: false } },
  { value: 'click', words: 'a click', beat: { kick: false, hat: false, click: true } },
];

const midiWords = {
  'not asked': '',
  asking: 'Asking the browser …',
  open: '',
  none: 'This browser knows no MIDI.',
  refused: 'The browser said no to MIDI; allow it in its settings for this page.',
} as const;

/** How things are listened to: the note on levels, level, stems, and what plays along. */
export function ListeningLeaf() {
  const { desk, sound, midi, messages } = usePage();
  const { store } = desk;
  const along = () => {
    const now = sound.plainBeat();
    return (
      beats.find(
        ({ beat }) => beat.kick === now.kick && beat.hat === now.hat && beat.click === now.click,
      )?.value ?? 'nothing'
    );
  };
  const places = () =>
    store.session.selection.kind === 'pads' ? store.session.selection.places : [];
  const stemState = (hash: string) =>
    store.session.solo.includes(hash)
      ? 'alone'
      : store.session.muted.includes(hash)
        ? 'silent'
        : 'heard';
  const setStem = (hash: string, state: string) =>
    store.setSession({
      solo: [
        ...store.session.solo.filter((one) => one !== hash),
        ...(state === 'alone' ? [hash] : []),
      ],
      muted: [
        ...store.session.muted.filter((one) => one !== hash),
        ...(state === 'silent' ? [hash] : []),
      ],
    });

  return (
    <Leaf title="Listening">
      <p>
        Playback starts quiet, and only your own hand makes it louder. How loud it truly is depends
        on your headphones, which this page cannot measure. Turn up until it is comfortable, no
        further, and give your ears a break now and then.
      </p>
      <p class="leaf-line first">
        Listening at{' '}
        <NumberValue
          name="listening level"
          value={sound.level()}
          min={-60}
          max={0}
          step={1}
          stride={6}
          show={(level) => `${figure(level)} dB`}
          change={sound.setLevel}
          after=";"
        />{' '}
        <Meter />
      </p>
      <p class="leaf-line">
        With the loop plays{' '}
        <ChoiceValue
          name="what plays with the loop"
          value={along()}
          choices={beats}
          change={(value) => {
            const chosen = beats.find((one) => one.value === value);
            if (chosen) sound.setPlainBeat(chosen.beat);
          }}
          after=","
        />{' '}
        with the take{' '}
        <ChoiceValue
          name="what plays with the take"
          value={sound.takeClick() ? 'click' : 'nothing'}
          choices={[
            { value: 'nothing', words: 'nothing' },
            { value: 'click', words: 'a click on each beat' },
          ]}
          change={(value) => sound.setTakeClick(value === 'click', store.heard()?.beats ?? [])}
          after="."
        />
      </p>
      <Latency />
      <p class="leaf-line">
        <Show
          when={midi.state() === 'open'}
          fallback={
            <>
              {midiWords[midi.state()]}{' '}
              <button type="button" class="press" onClick={() => void midi.open()}>
                play the pads from MIDI
              </button>
            </>
          }
        >
          {midi.devices().length
            ? `MIDI from ${midi.devices().join(', ')}.`
            : 'No MIDI device is plugged in yet.'}{' '}
          <button
            type="button"
            class="press"
            disabled={places().length !== 1}
            onClick={() => {
              const [place] = places();
              if (!place) return;
              messages.say('Play a note now.');
              midi.learnNext((note) => store.edit(learnNote(place, note)));
            }}
          >
            learn a note for the chosen pad
          </button>
        </Show>
      </p>
      <Show when={store.project()?.stems.length}>
        <h3>Stems</h3>
        <For each={store.project()?.stems}>
          {(stem) => (
            <p class="leaf-line">
              {stem.label} is{' '}
              <ChoiceValue
                name={`how ${stem.label} is heard`}
                value={stemState(stem.hash)}
                choices={[
                  { value: 'heard', words: 'heard' },
                  { value: 'silent', words: 'silent' },
                  { value: 'alone', words: 'heard alone' },
                ]}
                change={(state) => setStem(stem.hash, state)}
                after="."
              />{' '}
              <button
                type="button"
                class="word"
                aria-label={`Remove ${stem.label}`}
                onClick={() => store.edit(removeStem(stem.hash))}
              >
                remove
              </button>
            </p>
          )}
        </For>
      </Show>
      <Show when={store.project()}>
        <p class="leaf-line">
          <button
            type="button"
            class="press"
            onClick={async () => {
              const files = await chooseFiles();
              if (files.length) await desk.addStems(files);
            }}
          >
            add stems of this take
          </button>
        </p>
      </Show>
    </Leaf>
  );
}
