import { createEffect, createSignal, on, Show } from 'solid-js';
import { usePage } from '../page/context.ts';
import './margin.css';

/** What the page has to say: problems with what to do, and hints. Read aloud as they come. */
export function Margin() {
  const { desk, messages } = usePage();
  const [read, setRead] = createSignal(false);
  // Said anew whenever something is tried that cannot be done for that reason.
  createEffect(on([desk.elsewhere, desk.refused], () => setRead(false)));
  return (
    <>
      <aside class="margin" aria-label="Remarks">
        <div role="alert">
          <Show when={desk.elsewhere() && !read()}>
            <div class="remark error">
              <p>Another window has this project open, so it can be heard here but not changed.</p>
              <button type="button" class="word" onClick={() => desk.takeOver()}>
                take over here
              </button>
              <button type="button" class="word" onClick={() => setRead(true)}>
                good
              </button>
            </div>
          </Show>
          <Show when={desk.problem()}>
            {(problem) => (
              <div class="remark error">
                <p>{problem()}</p>
                <button type="button" class="word" onClick={() => desk.setProblem(null)}>
                  good
                </button>
              </div>
            )}
          </Show>
        </div>
        <div role="status">
          <Show when={messages.list()[messages.list().length - 1]}>
            {(message) => (
              <div class="remark" classList={{ error: message().kind === 'error' }}>
                <p>{message().text}</p>
                <Show when={message().action}>
                  {(action) => (
                    <button
                      type="button"
                      class="word"
                      onClick={() => {
                        const { run } = action();
                        messages.dismiss(message().id);
                        run();
                      }}
                    >
                      {action().words}
                    </button>
                  )}
                </Show>
                <button type="button" class="word" onClick={() => messages.dismiss(message().id)}>
                  good
                </button>
              </div>
            )}
          </Show>
        </div>
      </aside>
      <p class="unseen" aria-live="polite">
        {messages.live()}
      </p>
    </>
  );
}

/** What takes time, over the sheet: how far it is, and the way out. */
export function DoingNote() {
  const { desk } = usePage();
  return (
    <Show when={desk.doing()}>
      {(doing) => (
        <div class="doing" classList={{ over: desk.store.heard() !== null }}>
          <p id="doing-what">{doing().what} …</p>
          <div
            class="doing-line"
            role="progressbar"
            aria-labelledby="doing-what"
            aria-valuemin={0}
            aria-valuemax={100}
            aria-valuenow={Math.round(doing().share * 100)}
          >
            <div style={{ transform: `scaleX(${doing().share})` }} />
          </div>
          <button type="button" class="word doing-deed" onClick={() => doing().cancel()}>
            cancel
          </button>
        </div>
      )}
    </Show>
  );
}
