import { Match, Switch } from 'solid-js';
import { addSlice } from '../../store/slice-commands.ts';
import { usePage } from '../page/context.ts';
import { figure } from '../sentence/words.ts';

/** Below this no recording is meant to sound: -80 dBFS, under the noise of any room. */
const silent = -80;

/** What is said of a take in which little or nothing is heard, and what can be done with it all the same. */
export type Lack = 'sound' | 'attacks' | 'beats' | null;

export function useLack(): () => Lack {
  const { desk, slices } = usePage();
  return () => {
    const heard = desk.store.heard();
    if (!heard || !desk.store.project()) return null;
    if (!(heard.loudness.truePeak > silent)) return 'sound';
    if (slices().length === 0) return 'attacks';
    return heard.beats.length < 2 ? 'beats' : null;
  };
}

/** The sentence itself; what can be done stands beside it as deeds. */
export function NothingHeard(props: { readonly lack: Lack }) {
  const { desk } = usePage();
  const peak = () => desk.store.heard()?.loudness.truePeak ?? Number.NEGATIVE_INFINITY;
  return (
    <Switch>
      <Match when={props.lack === 'sound'}>
        Nothing is heard in this take:{' '}
        {Number.isFinite(peak())
          ? `its loudest sample lies at ${figure(peak())} dBFS`
          : 'every sample is nought'}
        . Look whether the right track was written to the file, then open it again.
      </Match>
      <Match when={props.lack === 'attacks'}>
        No attack is heard in this take, so nothing is cut yet. Make one slice of it all and split
        it where you like; for the beats, let it play and tap along.
      </Match>
      <Match when={props.lack === 'beats'}>
        No beat is heard in this take. Let it play and tap the beat along; the tempo and the
        straight loop go by your taps.
      </Match>
    </Switch>
  );
}

/** One slice from the take's first sample to its last. */
export function useOneSlice(): () => void {
  const { desk, messages } = usePage();
  return () => {
    const seconds = desk.store.project()?.take.seconds ?? 0;
    desk.store.edit(addSlice({ start: 0, landing: 0, end: seconds }));
    const [only] = desk.store.project()?.slices ?? [];
    if (only) desk.store.setSession({ selection: { kind: 'slices', ids: [only.id] } });
    messages.say('One slice of it all.');
  };
}
