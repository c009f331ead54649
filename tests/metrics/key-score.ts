import type { Key } from '../../shared/hear/heard.ts';

const tonics = ['C', 'Db', 'D', 'Eb', 'E', 'F', 'F#', 'G', 'Ab', 'A', 'Bb', 'B'];

type Named = Pick<Key, 'tonic' | 'mode'>;

/**
 * Key score as mir_eval.key.weighted_score (MIREX): 1 the same, 0.5 a fifth above in the same mode, 0.3
 * relative, 0.2 parallel; "unclear" scores nothing.
 */
export function keyScore(truth: Named, heard: Named): number {
  if (truth.tonic === heard.tonic && truth.mode === heard.mode) return 1;
  if (truth.mode === 'unclear' || heard.mode === 'unclear') return 0;
  const above = (tonics.indexOf(heard.tonic) - tonics.indexOf(truth.tonic) + 12) % 12;
  if (truth.mode === heard.mode) return above === 7 ? 0.5 : 0;
  if (above === (truth.mode === 'major' ? 9 : 3)) return 0.3;
  return above === 0 ? 0.2 : 0;
}
