import type { NamedSlice } from '../../../shared/cut/slice.ts';
import { setFades } from '../../store/slice-commands.ts';
import { usePage } from '../page/context.ts';
import { agreed } from '../page/selecting.ts';
import { NumberValue } from './number-value.tsx';
import { createSweep } from './sweep.ts';
import { readMilliseconds, shortTime } from './words.ts';

/** "It fades in over 5 ms and out over 8 ms." Nought leaves it to the short fade that every cut gets. */
export function Fades(props: { readonly slices: readonly NamedSlice[] }) {
  const { desk } = usePage();
  const sweep = createSweep(desk.store);
  const value = (side: 'fadeIn' | 'fadeOut') =>
    agreed(props.slices, (one) => Math.round((one[side] ?? 0) * 1000));
  const field = (side: 'fadeIn' | 'fadeOut', name: string, after?: string) => (
    <NumberValue
      name={name}
      value={value(side)}
      min={0}
      max={5000}
      step={1}
      read={(text) => readMilliseconds(text, value(side), 5000)}
      show={(ms) => (ms === 0 ? 'as every cut' : `over ${shortTime(ms / 1000)}`)}
      change={(ms, kind) =>
        sweep(
          setFades(
            props.slices.map((one) => one.id),
            { [side]: ms > 0 ? ms / 1000 : undefined },
          ),
          kind,
        )
      }
      after={after}
    />
  );
  return (
    <>
      {props.slices.length > 1 ? 'They fade' : 'It fades'} in {field('fadeIn', 'fade in')} and out{' '}
      {field('fadeOut', 'fade out', '.')}
    </>
  );
}
