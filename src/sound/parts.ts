import { type Accessor, createSignal } from 'solid-js';
import type { Audio } from '../../shared/take/audio.ts';
import type { SoundSource } from './sound.ts';

/** Which parts of a performance are heard: the mix, or chosen stems of it. */
export interface PartChoice {
  readonly apart: Accessor<boolean>;
  /** `mix`, or a stem's hash. */
  readonly audible: (part: string) => boolean;
  readonly set: (muted: readonly string[], solo: readonly string[]) => void;
}

export function createPartChoice(): PartChoice {
  const [choice, setChoice] = createSignal({
    muted: [] as readonly string[],
    solo: [] as readonly string[],
  });
  const apart = () => choice().muted.length + choice().solo.length > 0;
  return {
    apart,
    audible: (part) => {
      if (part === 'mix') return !apart();
      const { muted, solo } = choice();
      return apart() && (solo.length > 0 ? solo.includes(part) : !muted.includes(part));
    },
    set: (muted, solo) => setChoice({ muted, solo }),
  };
}

/** The parts of a recording that have to sound: stems only once one is chosen, since each takes as much memory as the mix. */
export function partsOf(source: SoundSource, choice: PartChoice): { part: string; audio: Audio }[] {
  const mix = { part: 'mix', audio: source.mix };
  if (!choice.apart() || source.stems.length === 0) return [mix];
  return [mix, ...source.stems.map(({ hash, audio }) => ({ part: hash, audio }))];
}

/** Whether a part is heard; without stems the mix always is. */
export function isHeard(source: SoundSource, choice: PartChoice, part: string): boolean {
  return source.stems.length === 0 ? part === 'mix' : choice.audible(part);
}
