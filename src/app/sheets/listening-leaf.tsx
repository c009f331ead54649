import { Show } from 'solid-js';
import type { PlainBeat } from '../../sound/sound.ts';
import { learnNote } from '../../store/pad-commands.ts';
import { usePage } from '../page/context.ts';
import { ChoiceValue } from '../sentence/choice-value.tsx';
import { NumberValue } from '../sentence/number-value.tsx';
import { figure } from '../sentence/words.ts';
import { Latency } from './latency.tsx';
import { Leaf } from './leaf.tsx';
import { Meter } from './meter.tsx';
import { Stems } from './stems.tsx';

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
              const id = store.project()?.id;
              midi.learnNext((note) => {
                // Another project may have been opened before it came.
                if (store.project()?.id === id) store.edit(learnNote(place, note));
              });
            }}
          >
            learn a note for the chosen pad
          </button>
        </Show>
      </p>
      <Stems />
    </Leaf>
  );
}
