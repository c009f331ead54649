import { Show } from 'solid-js';
import { useActions } from '../page/actions.ts';
import { usePage } from '../page/context.ts';

/** Under the sheet: how many cuts, how lines are set, and the way through the doubtful beats. */
export function Foot() {
  const { desk } = usePage();
  const actions = useActions();
  const { store } = desk;
  const doubts = () => actions.doubts().length;
  return (
    <Show when={store.project()}>
      {(project) => (
        <div class="sheet-foot">
          <input
            type="range"
            class="slide"
            min="0"
            max="100"
            step="1"
            aria-label="Fewer or more cuts"
            aria-valuetext={`${Math.round(project().cuts)} of 100, ${project().slices.length} slices`}
            value={project().cuts}
            onInput={(event) => desk.sweepCuts(event.currentTarget.valueAsNumber)}
            onChange={(event) => desk.sweepCuts(event.currentTarget.valueAsNumber, true)}
          />
          <span class="note" aria-hidden="true">
            fewer … more cuts
          </span>
          <span class="spring" />
          <Show when={doubts() > 0}>
            <button type="button" class="word note" onClick={() => actions.nextDoubt()}>
              {doubts() === 1 ? 'one doubtful beat' : `${doubts()} doubtful beats`} ›
            </button>
          </Show>
          <button
            type="button"
            class="word note"
            aria-pressed={store.session.lines === 'full width'}
            onClick={() =>
              store.setSession({
                lines: store.session.lines === 'one scale' ? 'full width' : 'one scale',
              })
            }
          >
            full lines
          </button>
        </div>
      )}
    </Show>
  );
}
