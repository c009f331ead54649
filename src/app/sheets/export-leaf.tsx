import { createSignal, Show } from 'solid-js';
import type { WavBits } from '../../../shared/take/wav-write.ts';
import { usePage } from '../page/context.ts';
import { saveFile } from '../page/files.ts';
import { ChoiceValue } from '../sentence/choice-value.tsx';
import { Leaf } from './leaf.tsx';

const depths: readonly { value: WavBits; words: string }[] = [
  { value: '16', words: '16-bit' },
  { value: '24', words: '24-bit' },
  { value: '32f', words: '32-bit float' },
];

/** What is handed over: the loop, the whole pack, the project. */
export function ExportLeaf() {
  const { desk, lane, messages } = usePage();
  const [bits, setBits] = createSignal<WavBits>('24');
  const [stems, setStems] = createSignal(false);
  const [busy, setBusy] = createSignal(false);

  const hand = async (make: () => Promise<readonly { name: string; blob: Blob }[]>) => {
    setBusy(true);
    try {
      const files = await make();
      for (const file of files) saveFile(file.name, file.blob);
      if (files.length) messages.say(`Saved ${files.map((file) => file.name).join(', ')}.`);
    } catch (problem) {
      messages.error(problem);
    } finally {
      setBusy(false);
    }
  };

  return (
    <Leaf title="Save">
      <Show
        when={lane()}
        fallback={
          <p>The lane is empty: make a straight loop of a line first, or carry words there.</p>
        }
      >
        {(now) => (
          <>
            <p class="leaf-line">
              The loop <em>{now().name}</em> as a{' '}
              <ChoiceValue
                name="sample format"
                value={bits()}
                choices={depths}
                change={(value) => {
                  const depth = depths.find((one) => one.value === value);
                  if (depth) setBits(depth.value);
                }}
              />{' '}
              WAV file,{' '}
              <ChoiceValue
                name="stems"
                value={stems() ? 'with' : 'without'}
                choices={[
                  { value: 'without', words: 'the mix alone' },
                  { value: 'with', words: 'with each stem in a file of its own' },
                ]}
                change={(value) => setStems(value === 'with')}
                after="."
              />
            </p>
            <div class="leaf-deeds">
              <button
                type="button"
                class="press main"
                disabled={busy()}
                onClick={() =>
                  void hand(() => desk.saveLoop(now().id, { bits: bits(), stems: stems() }))
                }
              >
                Save the loop
              </button>
            </div>
          </>
        )}
      </Show>
      <h3>Everything</h3>
      <p>
        The take with its tempo map, every loop with its stems, and the slices, labelled and in key,
        in one zip file.
      </p>
      <div class="leaf-deeds">
        <button
          type="button"
          class="press"
          disabled={busy()}
          onClick={() =>
            void hand(async () => {
              const pack = await desk.savePack();
              return pack ? [pack] : [];
            })
          }
        >
          Save the pack
        </button>
        <button
          type="button"
          class="press"
          disabled={busy()}
          onClick={() =>
            void hand(async () => {
              const file = await desk.saveProject();
              return file ? [file] : [];
            })
          }
        >
          Save the project file
        </button>
      </div>
      <Show when={desk.doing()}>
        {(doing) => (
          <p class="note" role="status">
            {doing().what} … {Math.round(doing().share * 100)} %
          </p>
        )}
      </Show>
    </Leaf>
  );
}
