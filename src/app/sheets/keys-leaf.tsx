import { For } from 'solid-js';
import { commands } from '../page/commands.ts';
import { usePage } from '../page/context.ts';
import { ChoiceValue } from '../sentence/choice-value.tsx';
import { Leaf } from './leaf.tsx';

const inside = [
  ['arrows', 'the word beside, above, below; with Shift choose as far as there'],
  ['Enter', 'hear the word; on a beat: it is the one'],
  [
    'Alt left, right',
    'move the cut, the beat or the word of the lane; with Shift further, on the lane longer',
  ],
  ['Alt up, down', 'move the landing earlier, later; with Shift further'],
  [
    'Delete',
    'join with the word before; on a beat: no beat here; on the lane: remove; on a pad: clear',
  ],
  ['Alt while dragging', 'free of attacks and of the grid'],
  ['Ctrl and wheel, or pinch', 'set the lines closer or wider'],
  ['Press in a word', 'sets the mark at which it would be cut'],
  ['Press twice above a line', 'a beat is there; where no word is, one begins there'],
  ['arrows on the pads', 'the pad beside, above, below; Enter plays it'],
  ['Shift Enter on a pad', 'the chosen words come to it; a chosen pad changes places with it'],
] as const;

/** The sheet of keys, and the few settings there are. */
export function KeysLeaf() {
  const { settings, changeSettings, setOverlay } = usePage();
  return (
    <Leaf title="Keys" wide>
      <p>
        The letter keys and the figures play the pads where they lie. With Shift a letter is a
        command. Space always plays or stops; Enter presses what has the focus.
      </p>
      <dl class="keys-list">
        <For each={commands}>
          {(command) => (
            <div>
              <dt>{command.keys}</dt>
              <dd>{command.words}</dd>
            </div>
          )}
        </For>
      </dl>
      <h3>On the sheet and on the lane</h3>
      <dl class="keys-list long">
        <For each={inside}>
          {([keys, words]) => (
            <div>
              <dt>{keys}</dt>
              <dd>{words}</dd>
            </div>
          )}
        </For>
      </dl>
      <h3>Settings</h3>
      <p class="leaf-line">
        The page is{' '}
        <ChoiceValue
          name="light or dark"
          value={settings.theme}
          choices={[
            { value: 'as the system', words: 'light or dark as the system is' },
            { value: 'light', words: 'light' },
            { value: 'dark', words: 'dark' },
          ]}
          change={(theme) =>
            changeSettings({
              theme: theme === 'light' || theme === 'dark' ? theme : 'as the system',
            })
          }
          after="."
        />
      </p>
      <div class="leaf-deeds">
        <button type="button" class="press" onClick={() => setOverlay('listening')}>
          Listening
        </button>
      </div>
    </Leaf>
  );
}
