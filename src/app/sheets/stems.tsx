import { For, Show } from 'solid-js';
import type { StemFile } from '../../store/project.ts';
import { removeStem } from '../../store/project-commands.ts';
import { nameVariant, renameStem } from '../../store/stem-commands.ts';
import { hearStem, type StemState, stemState } from '../../store/stems-heard.ts';
import { usePage } from '../page/context.ts';
import { chooseFiles } from '../page/files.ts';
import { ChoiceValue } from '../sentence/choice-value.tsx';
import { TextValue } from '../sentence/text-value.tsx';

const versions = ['dry', 'wet', 'alternate'];
const inTheMix = 'as in the mix';

const heardWords = (stem: StemFile): readonly { value: StemState; words: string }[] => [
  { value: 'heard', words: stem.variant === null ? 'heard' : 'heard in its place' },
  { value: 'silent', words: stem.variant === null ? 'silent' : 'not heard' },
  { value: 'alone', words: 'heard alone' },
];

/** The stems of the take: what each is called, which version of its part it is, and how it is heard. */
export function Stems() {
  const { desk } = usePage();
  const { store } = desk;
  const stems = () => store.project()?.stems ?? [];
  const full = (stem: StemFile) => (stem.variant ? `${stem.label}, ${stem.variant}` : stem.label);
  // A version of somebody's own is one of the choices too.
  const choices = (stem: StemFile) =>
    [...new Set([inTheMix, ...versions, stem.variant ?? inTheMix])].map((value) => ({
      value,
      words: value,
    }));

  return (
    <Show when={store.project()}>
      <Show when={stems().length > 0}>
        <h3>Stems</h3>
      </Show>
      <For each={stems().map((stem) => stem.hash)}>
        {(hash) => (
          <Show when={stems().find((one) => one.hash === hash)}>
            {(stem) => (
              <p class="leaf-line">
                <TextValue
                  name={`name of ${full(stem())}`}
                  value={stem().label}
                  empty={stem().label}
                  longest={60}
                  change={(label) => store.edit(renameStem(hash, label))}
                  after=","
                />{' '}
                <ChoiceValue
                  name={`version of ${stem().label}`}
                  value={stem().variant ?? inTheMix}
                  choices={choices(stem())}
                  change={(value) =>
                    store.edit(nameVariant(hash, value === inTheMix ? null : value))
                  }
                  after=","
                />{' '}
                is{' '}
                <ChoiceValue
                  name={`how ${full(stem())} is heard`}
                  value={stemState(stem(), store.session)}
                  choices={heardWords(stem())}
                  change={(value) => {
                    const state = heardWords(stem()).find((one) => one.value === value)?.value;
                    if (state) store.setSession(hearStem(stems(), store.session, hash, state));
                  }}
                  after="."
                />{' '}
                <button
                  type="button"
                  class="word"
                  aria-label={`Remove ${full(stem())}`}
                  onClick={() => store.edit(removeStem(hash))}
                >
                  remove
                </button>
              </p>
            )}
          </Show>
        )}
      </For>
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
  );
}
