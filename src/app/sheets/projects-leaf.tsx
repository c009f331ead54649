import { For, Show } from 'solid-js';
import { usePage } from '../page/context.ts';
import { clock, sizeWords } from '../sentence/words.ts';
import { Leaf } from './leaf.tsx';

const day = new Intl.DateTimeFormat(undefined, { dateStyle: 'medium', timeStyle: 'short' });

/** Everything this browser keeps. */
export function ProjectsLeaf() {
  const { desk, actions, setOverlay, messages } = usePage();
  return (
    <Leaf title="Projects">
      <Show when={desk.projects().length} fallback={<p>Nothing is kept in this browser yet.</p>}>
        <ul class="projects-list">
          <For each={desk.projects()}>
            {(card) => (
              <li>
                <button
                  type="button"
                  class="word open"
                  aria-current={desk.store.project()?.id === card.id ? 'true' : undefined}
                  onClick={() => {
                    setOverlay(null);
                    void desk.openProject(card.id);
                  }}
                >
                  {card.name}
                </button>
                <p class="figure">
                  {clock(card.seconds)} long, {sizeWords(card.bytes)}, changed{' '}
                  {day.format(new Date(card.changed))}
                </p>
                <div class="deeds">
                  <button
                    type="button"
                    class="word"
                    aria-label={`Copy ${card.name}`}
                    onClick={() => void desk.duplicateProject(card.id)}
                  >
                    copy
                  </button>
                  <button
                    type="button"
                    class="word"
                    aria-label={`Delete ${card.name}`}
                    onClick={async () => {
                      await desk.removeProject(card.id);
                      messages.hint(`${card.name} is deleted.`, {
                        words: 'bring it back',
                        run: () => void desk.restoreProject(card.id),
                      });
                    }}
                  >
                    delete
                  </button>
                </div>
              </li>
            )}
          </For>
        </ul>
      </Show>
      <p class="note">All of it lies in this browser alone; nothing leaves this machine.</p>
      <div class="leaf-deeds">
        <button
          type="button"
          class="press"
          onClick={() => {
            setOverlay(null);
            void actions.open();
          }}
        >
          Open a recording
        </button>
        <button
          type="button"
          class="press"
          onClick={() => {
            setOverlay(null);
            void desk.openDemo();
          }}
        >
          Demo take
        </button>
      </div>
    </Leaf>
  );
}
