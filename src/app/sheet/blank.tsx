import { useActions } from '../page/actions.ts';
import { usePage } from '../page/context.ts';

/** The empty sheet: one line of writing. */
export function Blank() {
  const { desk } = usePage();
  const actions = useActions();
  return (
    <p class="blank">
      Drop a recording here,{' '}
      <button type="button" class="inline" onClick={() => actions.open()}>
        open one
      </button>
      , or{' '}
      <button type="button" class="inline" onClick={() => void desk.openDemo()}>
        try the demo take
      </button>
      .<span class="blank-note note">Everything is heard on this machine; nothing leaves it.</span>
    </p>
  );
}
