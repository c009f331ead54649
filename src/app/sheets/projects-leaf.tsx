import { createSignal, For, onCleanup, onMount, Show } from 'solid-js';
import { usePage } from '../page/context.ts';
import { clock, sizeWords } from '../sentence/words.ts';
import { Leaf } from './leaf.tsx';

const day = new Intl.DateTimeFormat(undefined, { dateStyle: 'medium', timeStyle: 'short' });

/** Everything this browser keeps. */
export function ProjectsLeaf() {
  const { desk, actions, setOverlay, messages } = usePage();
  /** The one that was deleted last while this leaf lies here. */
  const [gone, setGone] = createSignal<{ id: string; name: string } | null>(null);
  onMount(() => {
    desk.lookAtProjects();
    window.addEventListener('focus', desk.lookAtProjects);
    onCleanup(() => window.removeEventListener('focus', desk.lookAtProjects));
  });
  const bringBack = (id: string) => {
    setGone(null);
    void desk.restoreProject(id);
  };
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
                  dir="auto"
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
                      const { id, name } = card;
                      if (!(await desk.removeProject(id))) return;
                      setGone({ id, name });
                      // Also beside the page, for whoever thinks of it once the leaf is gone.
                      messages.hint(`${name} is deleted.`, {
                        words: 'bring it back',
                        run: () => bringBack(id),
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
      <div role="status">
        <Show when={gone()}>
          {(one) => (
            <p>
              {one().name} is deleted.{' '}
              <button type="button" class="inline" onClick={() => bringBack(one().id)}>
                bring it back
              </button>
            </p>
          )}
        </Show>
      </div>
      <For each={desk.deleted().filter((card) => card.id !== gone()?.id)}>
        {(card) => (
          <p class="note">
            {card.name} was deleted and goes for good after a day.{' '}
            <button
              type="button"
              class="inline"
              aria-label={`Bring back ${card.name}`}
              onClick={() => bringBack(card.id)}
            >
              bring it back
            </button>
          </p>
        )}
      </For>
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
