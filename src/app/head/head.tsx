import { Show } from 'solid-js';
import { renameProject } from '../../store/project-commands.ts';
import { usePage } from '../page/context.ts';
import './head.css';

const saved = {
  nothing: '',
  waiting: 'saving',
  saving: 'saving',
  saved: 'saved',
  full: 'not saved: no room left',
  failed: 'not saved',
  elsewhere: 'not saved: open in another window',
} as const;

/** The title, what plays, and the few words that act on the whole. */
export function Head() {
  const page = usePage();
  const { desk, sound, actions, setOverlay } = page;
  const { store } = desk;
  const open = () => store.project() !== null;
  const playing = (what: string) => sound.playing() === what;
  const comparing = () => playing('comparison');

  return (
    <header class="head">
      <div class="head-title">
        <Show when={store.project()} fallback={<h1 class="title">Unclicked</h1>}>
          {(project) => (
            <>
              <h1 class="unseen">{project().name}, Unclicked</h1>
              <input
                class="title"
                aria-label="Name of the project"
                autocomplete="off"
                spellcheck={false}
                value={project().name}
                onChange={(event) => store.edit(renameProject(event.currentTarget.value))}
                onKeyDown={(event) => {
                  if (event.key === 'Escape') event.currentTarget.value = project().name;
                  if (event.key === 'Enter' || event.key === 'Escape') event.currentTarget.blur();
                }}
              />
            </>
          )}
        </Show>
        <span class="saved note" role="status">
          {saved[desk.saving()]}
        </span>
      </div>

      <fieldset class="transport set">
        <legend class="unseen">Listen</legend>
        <button
          type="button"
          class="press"
          disabled={!open()}
          aria-pressed={playing('take')}
          onClick={actions.playTake}
        >
          <span class="mark" aria-hidden="true">
            {playing('take') ? '■' : '▶'}
          </span>{' '}
          take
        </button>
        <button
          type="button"
          class="press"
          disabled={!open()}
          aria-pressed={playing('loop')}
          onClick={actions.playLoop}
        >
          <span class="mark" aria-hidden="true">
            {playing('loop') ? '■' : '▶'}
          </span>{' '}
          loop
        </button>
        <button
          type="button"
          class="press"
          disabled={!desk.loop()}
          aria-pressed={comparing()}
          aria-label={
            comparing()
              ? `Comparing: ${sound.side() === 'loop' ? 'the loop' : 'the take'} sounds, press for the other`
              : 'Compare take and loop, equally loud'
          }
          title="A is the take, B the loop, equally loud"
          onClick={actions.compare}
        >
          <span class="side" classList={{ on: comparing() && sound.side() === 'original' }}>
            A
          </span>{' '}
          |{' '}
          <span class="side" classList={{ on: comparing() && sound.side() === 'loop' }}>
            B
          </span>
        </button>
      </fieldset>

      <div class="head-words">
        <button
          type="button"
          class="word step"
          disabled={store.undoLabel() === null}
          aria-label={`Undo: ${store.undoLabel() ?? 'nothing'}`}
          title={store.undoLabel() ?? undefined}
          onClick={actions.undo}
        >
          undo
        </button>
        <button
          type="button"
          class="word step"
          disabled={store.redoLabel() === null}
          aria-label={`Redo: ${store.redoLabel() ?? 'nothing'}`}
          title={store.redoLabel() ?? undefined}
          onClick={actions.redo}
        >
          redo
        </button>
        <button type="button" class="word" onClick={() => void actions.open()}>
          open
        </button>
        <button type="button" class="word" onClick={() => setOverlay('projects')}>
          projects
        </button>
        <button type="button" class="word" disabled={!open()} onClick={() => setOverlay('export')}>
          save
        </button>
        <button
          type="button"
          class="word"
          onClick={() => setOverlay('keys')}
          aria-label="Keys and settings"
        >
          ?
        </button>
      </div>
    </header>
  );
}
