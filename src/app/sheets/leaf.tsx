import { type JSX, onMount } from 'solid-js';
import { usePage } from '../page/context.ts';
import './leaf.css';

/** A leaf over the page: a true dialog, left by Escape, by its word or by a press beside it. */
export function Leaf(props: {
  readonly title: string;
  readonly wide?: boolean;
  readonly children: JSX.Element;
}) {
  const { setOverlay, giveFocusBack } = usePage();
  let dialog!: HTMLDialogElement;
  onMount(() => dialog.showModal());
  // At once: the event "close" comes later, and a key pressed before it would still mean the leaf.
  const leave = () => {
    giveFocusBack(() => dialog.close());
    setOverlay(null);
  };
  return (
    <dialog
      ref={dialog}
      class="leaf"
      classList={{ wide: props.wide }}
      aria-labelledby="leaf-title"
      onClose={() => {
        if (dialog.isConnected) setOverlay(null);
      }}
      onClick={(event) => {
        if (event.target === dialog) leave();
      }}
      onCancel={(event) => {
        // A list within that was left by Escape is not the leaf.
        if (event.target !== dialog) return;
        event.preventDefault();
        leave();
      }}
      onKeyDown={(event) => event.stopPropagation()}
    >
      <div class="leaf-top">
        <h2 id="leaf-title">{props.title}</h2>
        <button type="button" class="word" onClick={leave}>
          close
        </button>
      </div>
      {props.children}
    </dialog>
  );
}
