/** Something to do with what is chosen: a word that is pressed. `keys` do the same. */
export function Deed(props: { words: string; keys?: string; main?: boolean; do: () => void }) {
  return (
    <button
      type="button"
      class="word deed"
      classList={{ main: props.main }}
      title={props.keys}
      onClick={() => props.do()}
    >
      {props.words}
    </button>
  );
}
