import { Show } from 'solid-js';
import type { SaveState } from '../../store/autosave.ts';
import { renameProject } from '../../store/project-commands.ts';
import { usePage } from '../page/context.ts';
import { opening } from '../sentence/words.ts';
import './head.css';

const saved = {
  nothing: '',
  waiting: 'saving',
  saving: 'saving',
  saved: 'saved',
  full: 'not saved: no room left',
  failed: 'not saved',
  seen: 'open in another window',
  elsewhere: 'not saved: open in another window',
  nowhere: 'not saved: this browser keeps nothing',
} as const;

/** What comes and goes with every step. */
const usual: ReadonlySet<SaveState> = new Set(['nothing', 'waiting', 'saving', 'saved']);

/** Undo or redo, with the step that it is about under it, where it moves nothing. */
function Step(props: {
  readonly words: 'undo' | 'redo';
  readonly step: string | null;
  readonly do: () => void;
}) {
  return (
    <button
      type="button"
      class="word step"
      disabled={props.step === null}
      aria-label={`${opening(props.words)}: ${props.step ?? 'nothing'}`}
      title={props.step ?? undefined}
      onClick={() => props.do()}
    >
      {props.words}
      <span class="step-name">{props.step}</span>
    </button>
  );
}

/** Drawn, since not every system has the letter for it, and some have a coloured picture there. */
function Mark(props: { readonly playing: boolean }) {
  return (
    <svg class="mark" viewBox="0 0 10 10" aria-hidden="true">
      <path d={props.playing ? 'M1 1h8v8h-8z' : 'M1 0.5l8.5 4.5l-8.5 4.5z'} />
    </svg>
  );
}

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
                dir="auto"
                aria-label="Name of the project"
                autocomplete="off"
                spellcheck={false}
                value={project().name}
                onChange={(event) => {
                  store.edit(renameProject(event.currentTarget.value));
                  event.currentTarget.value = project().name;
                }}
                onKeyDown={(event) => {
                  // Enter and Escape are the input method's while it composes.
                  if (event.isComposing) return;
                  if (event.key === 'Escape') event.currentTarget.value = project().name;
                  if (event.key === 'Enter' || event.key === 'Escape') event.currentTarget.blur();
                }}
              />
            </>
          )}
        </Show>
        {/* Read aloud only where something is wrong: after each step it would be in the way. */}
        <span class="saved note">
          {usual.has(desk.saving()) ? saved[desk.saving()] : ''}
          <span role="status">{usual.has(desk.saving()) ? '' : saved[desk.saving()]}</span>
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
          <Mark playing={playing('take')} /> take
        </button>
        <button
          type="button"
          class="press"
          disabled={!open()}
          aria-pressed={playing('loop')}
          onClick={actions.playLoop}
        >
          <Mark playing={playing('loop')} /> loop
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
        <Step words="undo" step={store.undoLabel()} do={actions.undo} />
        <Step words="redo" step={store.redoLabel()} do={actions.redo} />
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
