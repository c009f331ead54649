import { createMemo, Show } from 'solid-js';
import type { NamedSlice } from '../../../shared/cut/slice.ts';
import { together } from '../../store/command.ts';
import { padPlaces, setPad } from '../../store/pad-commands.ts';
import { moveEdge, moveLanding } from '../../store/slice-commands.ts';
import { usePage } from '../page/context.ts';
import { longName } from '../page/naming.ts';
import { agreed, chosenPads, chosenSlices } from '../page/selecting.ts';
import { keyLabel } from '../rows/keys.ts';
import { ChoiceValue } from './choice-value.tsx';
import { NumberValue } from './number-value.tsx';
import { PadValues } from './pad-values.tsx';
import { createSweep } from './sweep.ts';
import { figure, opening, readMilliseconds, readTime, shortTime, unitOf } from './words.ts';

/** A slice that ends where the next begins rings till its attack. */
const touching = 0.003;

/** The sentence of the chosen slices. */
export function SliceSentence() {
  const { desk, names } = usePage();
  const { store } = desk;
  const sweep = createSweep(store);
  const slices = createMemo(() => {
    const project = store.project();
    return project ? chosenSlices(project, store.session.selection) : [];
  });
  const pads = createMemo(() => {
    const project = store.project();
    return project ? chosenPads(project, store.session.selection) : [];
  });
  const many = () => slices().length > 1;
  const subject = () =>
    many() ? `${slices().length} slices` : opening(longName(names().get(slices()[0]?.id ?? '')));

  const all = (label: string, make: (slice: NamedSlice) => ReturnType<typeof moveEdge>) =>
    together(label, slices().map(make));
  const lead = createMemo(() =>
    agreed(slices(), (one) => Math.round((one.landing - one.start) * 1000)),
  );
  const ring = createMemo(() =>
    agreed(slices(), (one) => Math.round((one.end - one.landing) * 100) / 100),
  );
  const tillNext = createMemo(() => {
    const project = store.project();
    return slices().every((slice) => {
      const next = project?.slices[project.slices.indexOf(slice) + 1];
      return next !== undefined && Math.abs(next.start - slice.end) < touching;
    });
  });
  const freePads = createMemo(() => {
    const taken = store.project()?.pads ?? [];
    const free = padPlaces.filter((p) => !taken.some((t) => t.row === p.row && t.key === p.key));
    return free.map((p) => ({ value: `${p.row} ${p.key}`, words: `pad ${keyLabel(p, null)}` }));
  });

  return (
    <>
      {subject()}{' '}
      <Show when={!many() ? slices()[0] : undefined}>
        {(one) => (
          <>
            lands at{' '}
            <NumberValue
              name="landing"
              value={Math.round(one().landing * 1000) / 1000}
              min={Math.ceil(one().start * 1000) / 1000}
              max={Math.floor(one().end * 1000) / 1000}
              step={0.001}
              stride={0.01}
              show={(s) => `${figure(s, 3)} s`}
              change={(s, kind) => sweep(moveLanding(one().id, s), kind)}
              after=","
            />{' '}
          </>
        )}
      </Show>
      start{many() ? '' : 's'}{' '}
      <NumberValue
        name="lead-in before the landing"
        value={lead()}
        min={0}
        max={2000}
        step={1}
        read={(text) => readMilliseconds(text, lead(), 2000)}
        show={(ms) => shortTime(ms / 1000)}
        change={(ms, kind) =>
          sweep(
            all('change a lead-in', (one) => moveEdge(one.id, 'start', one.landing - ms / 1000)),
            kind,
          )
        }
      />{' '}
      before {many() ? 'landing' : 'it'}, ring{many() ? '' : 's'}{' '}
      <NumberValue
        name="how long it rings from its landing"
        value={ring()}
        min={0.01}
        max={60}
        step={0.01}
        stride={0.1}
        read={(text) => readTime(text, { shown: unitOf(ring()), from: 0.01, until: 60 })}
        show={(s) => (tillNext() ? 'till the next attack' : `for ${shortTime(s)}`)}
        change={(s, kind) =>
          sweep(
            all('change how long it rings', (one) => moveEdge(one.id, 'end', one.landing + s)),
            kind,
          )
        }
      />
      <Show
        when={pads().length > 0}
        fallback={
          <Show when={!many()} fallback=".">
            , and lies on{' '}
            <ChoiceValue
              name="pad"
              value=""
              choices={[{ value: '', words: 'no pad' }, ...freePads()]}
              change={(value) => {
                const [row, key] = value.split(' ').map(Number);
                const [slice] = slices();
                if (slice && row !== undefined && key !== undefined)
                  store.edit(setPad({ row, key }, slice.id));
              }}
              after="."
            />
          </Show>
        }
      >
        , sound{many() ? '' : 's'} <PadValues pads={pads()} />
      </Show>
    </>
  );
}
