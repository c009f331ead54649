/** Writes tests/data/mir-eval/pairs.json: `npx tsx tests/metrics/mir-eval-write.ts`, needs mir_eval. */
import { spawnSync } from 'node:child_process';
import { writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { keyPairs, madePairs } from './mir-eval-pairs.ts';

export interface MirEvalAnswer {
  readonly version: string;
  readonly pairs: readonly Readonly<Record<string, number>>[];
  readonly keys: readonly number[];
}

/** What the installed mir_eval says of the made pairs; nothing where it is not installed. */
export function askMirEval(): MirEvalAnswer | undefined {
  const script = fileURLToPath(new URL('mir-eval.py', import.meta.url));
  const input = JSON.stringify({ pairs: madePairs(), keys: keyPairs() });
  const done = spawnSync('/usr/bin/python3', [script], { input, encoding: 'utf8' });
  return done.status === 0 ? (JSON.parse(done.stdout) as MirEvalAnswer) : undefined;
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  const answer = askMirEval();
  if (!answer) throw new Error('mir_eval is not installed for /usr/bin/python3.');
  const to = new URL('../data/mir-eval/pairs.json', import.meta.url);
  writeFileSync(to, `${JSON.stringify(answer)}\n`);
}
