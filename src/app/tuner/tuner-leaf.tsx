import { createEffect, createMemo, createSignal, For, on, onCleanup, Show } from 'solid-js';
import { surestTuning } from '../../../shared/hear/pitch/nearest-note.ts';
import {
  type PitchMoment,
  type PlayedNote,
  playedNotes,
  summariseTuning,
} from '../../../shared/hear/pitch/pitch-track.ts';
import { usePage } from '../page/context.ts';
import { ChoiceValue } from '../sentence/choice-value.tsx';
import { clock, figure } from '../sentence/words.ts';
import { Leaf } from '../sheets/leaf.tsx';
import { lineSpan, tunerLines } from './lines.ts';
import { TunerLineView } from './tuner-line.tsx';
import { allInTune, offWords, placeWords, usualWords } from './tuner-words.ts';
import './tuner.css';

/** How the take or a stem of it is tuned, note by note, set in the lines of the sheet. */
export function TunerLeaf() {
  const { desk, sound, actions } = usePage();
  const { store } = desk;
  const [part, setPart] = createSignal<string>(store.project()?.stems[0]?.hash ?? '');
  const [against, setAgainst] = createSignal<'own' | '440'>('440');
  const chosenStretch = actions.stretch();
  const [whole, setWhole] = createSignal(chosenStretch === null);
  const [moments, setMoments] = createSignal<readonly PitchMoment[] | null>(null);
  const [chosen, setChosen] = createSignal<PlayedNote | null>(null);
  let page!: HTMLDivElement;

  const stretch = createMemo(() =>
    whole() || !chosenStretch
      ? { from: 0, until: store.project()?.take.seconds ?? 0 }
      : chosenStretch,
  );
  const tuning = () => store.heard()?.tuning;
  const own = () => {
    const heard = tuning();
    return heard && heard.confidence >= surestTuning ? heard.a4 : null;
  };
  const a4 = () => (against() === 'own' ? (own() ?? 440) : 440);
  const notes = createMemo(() => playedNotes(moments() ?? [], a4()));
  const summary = createMemo(() => summariseTuning(notes()));
  const ofLine = (from: number, until: number) =>
    notes().filter((note) => note.start >= from && note.start < until);
  const lines = createMemo(() =>
    tunerLines(store.heard()?.phrases ?? [], stretch().from, stretch().until).filter(
      // What stands before the first phrase is mostly nothing.
      (line) => line.label !== '' || ofLine(line.from, line.until).length > 0,
    ),
  );

  createEffect(
    // With other stems the worker starts afresh, and what it was asked is asked again.
    on([part, stretch, desk.sound], ([of, { from, until }]) => {
      const stop = new AbortController();
      setMoments(null);
      setChosen(null);
      desk.trackPitch(stop.signal, of || null, from, until).then(
        (heard) => !stop.signal.aborted && setMoments(heard),
        (problem) => {
          if (!stop.signal.aborted) desk.setProblem(String(problem?.message ?? problem));
        },
      );
      onCleanup(() => stop.abort());
    }),
  );
  onCleanup(() => sound.stop());

  const play = (note: PlayedNote) => {
    setChosen(note);
    void sound
      .wake()
      .then(() => sound.playTake({ from: Math.max(0, note.start - 0.05), until: note.end + 0.1 }));
  };
  /** Walks from note to note with the arrows, as in a text. */
  const key = (event: KeyboardEvent) => {
    const all = notes();
    const at = all.findIndex(
      (note) => String(note.start) === (event.target as HTMLElement).dataset.at,
    );
    if (at < 0) return;
    const to: Record<string, number> = {
      ArrowRight: at + 1,
      ArrowDown: at + 1,
      ArrowLeft: at - 1,
      ArrowUp: at - 1,
      Home: 0,
      End: all.length - 1,
    };
    const next = event.key in to ? all[to[event.key]] : undefined;
    if (!next) return;
    event.preventDefault();
    setChosen(next);
    page.querySelector<HTMLElement>(`[data-at="${next.start}"]`)?.focus();
  };

  return (
    <Leaf title="Tuning" wide>
      <p class="leaf-line">
        <ChoiceValue
          name="what is looked at"
          value={part()}
          choices={[
            { value: '', words: 'The whole take' },
            ...(store.project()?.stems ?? []).map(({ hash, label, variant }) => ({
              value: hash,
              words: variant ? `${label}, ${variant}` : label,
            })),
          ]}
          change={setPart}
          after=","
        />{' '}
        <Show when={chosenStretch} fallback="all of it,">
          <ChoiceValue
            name="how much of it"
            value={whole() ? 'all' : 'chosen'}
            choices={[
              { value: 'all', words: 'all of it' },
              { value: 'chosen', words: 'what is chosen' },
            ]}
            change={(value) => setWhole(value === 'all')}
            after=","
          />
        </Show>{' '}
        against{' '}
        <ChoiceValue
          name="what it is measured against"
          value={against()}
          choices={[
            { value: '440', words: 'A 440' },
            ...(own() === null
              ? []
              : [{ value: 'own', words: `the take’s own A ${figure(own() ?? 440, 1)}` }]),
          ]}
          change={(value) => setAgainst(value === 'own' ? 'own' : '440')}
          after="."
        />
      </p>
      <p class="tuner-said" role="status">
        <Show when={moments()} fallback="Listening …">
          <Show
            when={summary()}
            fallback="No single notes are heard here: chords and noise have no pitch to measure."
          >
            {(now) => (
              <>
                {usualWords(now())}
                <Show when={!allInTune(now())} fallback=".">
                  ; {notes().length > 1 ? 'worst' : 'it is'}{' '}
                  <button type="button" class="inline" onClick={() => play(now().worst)}>
                    {placeWords(now().worst)}
                  </button>
                  , {offWords(now().worst.cents)}.
                </Show>
              </>
            )}
          </Show>
        </Show>
      </p>
      {/* biome-ignore lint/a11y/noStaticElementInteractions: the arrows walk among the buttons in it */}
      <div class="tuner-page" ref={page} onKeyDown={key}>
        <Show when={notes().length > 0}>
          <For each={lines()}>
            {(line) => (
              <TunerLineView
                line={line}
                span={lineSpan(lines())}
                moments={moments() ?? []}
                notes={ofLine(line.from, line.until)}
                offset={12 * Math.log2(a4() / 440)}
                chosen={chosen()}
                focused={chosen() ?? notes()[0] ?? null}
                choose={play}
              />
            )}
          </For>
        </Show>
      </div>
      <Show when={chosen()}>
        {(note) => (
          <p class="note" aria-live="polite">
            {placeWords(note())}: {offWords(note().cents)}, for{' '}
            {figure(note().end - note().start, 1)} s.
          </p>
        )}
      </Show>
      <p class="note tuner-key">
        The band is 5 cents to each side, the thin lines 20; a note farther than 40 stands at the
        edge. Press one to hear the take there ({clock(stretch().from)} to {clock(stretch().until)}
        ).
      </p>
    </Leaf>
  );
}
