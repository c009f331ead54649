import { errorsOf } from '../../metrics/onset-score.ts';
import type { Kind } from '../../perform/truth.ts';
import type { Judged } from './judge.ts';

/** A line of the table: what, the goal, and its figure for one listener. */
interface Line {
  readonly what: string;
  readonly goal: string;
  readonly of: (judged: readonly Judged[]) => string;
}

function mean(values: readonly (number | undefined)[], digits: number): string {
  const known = values.filter((value): value is number => value !== undefined);
  if (known.length === 0) return '';
  return (known.reduce((sum, x) => sum + x, 0) / known.length).toFixed(digits);
}

const fresh = (all: readonly Judged[]): Judged[] => all.filter((one) => !one.old);
const old = (all: readonly Judged[]): Judged[] => all.filter((one) => one.old);
const kinds = (all: readonly Judged[], kind: Kind): Judged[] =>
  fresh(all).filter((one) => one.kind === kind);

/** The goals were set on solo piano and trios; ensembles are reported apart. */
const goalKinds = (all: readonly Judged[]): Judged[] =>
  fresh(all).filter((one) => one.kind !== 'ensemble');

function errorLine(all: readonly Judged[]): string {
  const signed = all.flatMap((one) => one.errors ?? []);
  if (signed.length === 0) return '';
  const errors = errorsOf(signed);
  const ms = (seconds: number): string => (1000 * seconds).toFixed(1);
  return `${ms(errors.mean)}; ${ms(errors.bias)} (95 % ${ms(errors.p95)})`;
}

function perMinute(all: readonly Judged[]): string {
  const known = all.filter((one) => one.corrections !== undefined);
  if (known.length === 0) return '';
  return mean(
    known.map((one) => ((one.corrections ?? 0) * 60) / one.seconds),
    1,
  );
}

function softLine(all: readonly Judged[]): string {
  const counted = all.flatMap((one) => (one.soft ? [one.soft] : []));
  const of = counted.reduce((sum, one) => sum + one.of, 0);
  if (of === 0) return '';
  return (counted.reduce((sum, one) => sum + one.found, 0) / of).toFixed(2);
}

function returnsLine(all: readonly Judged[]): string {
  const counted = all.flatMap((one) => (one.returns ? [one.returns] : []));
  if (counted.length === 0) return '';
  const sum = (pick: (one: (typeof counted)[number]) => number): number =>
    counted.reduce((total, one) => total + pick(one), 0);
  const right = sum((one) => one.right);
  return `${(
    right /
      Math.max(
        1,
        sum((one) => one.shown),
      )
  ).toFixed(2)} / ${(
    right /
      Math.max(
        1,
        sum((one) => one.of),
      )
  ).toFixed(2)}`;
}

const playing: readonly (readonly [Kind, string, string, string])[] = [
  ['piano', 'solo rubato piano', '0.75', '6'],
  ['trio', 'rubato trio', '0.90', '4'],
  ['extreme', 'extreme rubato', '0.60', '25'],
  ['steady', 'steady human trio', '0.98', '2'],
  ['ensemble', 'other ensembles', '', ''],
];

const lines: readonly Line[] = [
  {
    what: 'onset F, 50 ms',
    goal: '0.93',
    of: (a) =>
      mean(
        goalKinds(a).map((j) => j.onset50),
        3,
      ),
  },
  {
    what: 'onset F, 10 ms',
    goal: '0.90',
    of: (a) =>
      mean(
        goalKinds(a).map((j) => j.onset10),
        3,
      ),
  },
  {
    what: 'matched onsets: mean error; bias, ms',
    goal: '< 2; < 0.5',
    of: (a) => errorLine(goalKinds(a)),
  },
  { what: 'recall of soft lone notes', goal: '0.90', of: (a) => softLine(goalKinds(a)) },
  {
    what: 'old record: onset F, 50 / 10 ms',
    goal: '0.90 / 0.85',
    of: (a) => {
      const at50 = mean(
        old(a)
          .filter((j) => j.kind !== 'ensemble')
          .map((j) => j.onset50),
        3,
      );
      const at10 = mean(
        old(a)
          .filter((j) => j.kind !== 'ensemble')
          .map((j) => j.onset10),
        3,
      );
      return at50 && `${at50} / ${at10}`;
    },
  },
  ...playing.map(
    ([kind, name]): Line => ({
      what: `onset F, 50 / 10 ms: ${name}`,
      goal: '',
      of: (a) => {
        const at50 = mean(
          kinds(a, kind).map((j) => j.onset50),
          3,
        );
        return (
          at50 &&
          `${at50} / ${mean(
            kinds(a, kind).map((j) => j.onset10),
            3,
          )}`
        );
      },
    }),
  ),
  ...playing.map(
    ([kind, name, goal]): Line => ({
      what: `beat F, better level: ${name}`,
      goal,
      of: (a) =>
        mean(
          kinds(a, kind).map((j) => j.beat),
          3,
        ),
    }),
  ),
  {
    what: 'the same without the first 5 s, all kinds',
    goal: '',
    of: (a) =>
      mean(
        fresh(a).map((j) => j.beatTrimmed),
        3,
      ),
  },
  {
    what: 'beat F at the written level, all kinds',
    goal: '',
    of: (a) =>
      mean(
        fresh(a).map((j) => j.beatStrict),
        3,
      ),
  },
  {
    what: 'Cemgil, best level',
    goal: '',
    of: (a) =>
      mean(
        fresh(a).map((j) => j.cemgil),
        3,
      ),
  },
  {
    what: 'P-score',
    goal: '',
    of: (a) =>
      mean(
        fresh(a).map((j) => j.pScore),
        3,
      ),
  },
  ...playing.map(
    ([kind, name, , goal]): Line => ({
      what: `corrections a minute: ${name}`,
      goal,
      of: (a) => perMinute(kinds(a, kind)),
    }),
  ),
  {
    what: 'phrase starts F, 0.5 / 3 s',
    goal: '',
    of: (a) => {
      const near = mean(
        fresh(a).map((j) => j.phrase05),
        2,
      );
      return (
        near &&
        `${near} / ${mean(
          fresh(a).map((j) => j.phrase3),
          2,
        )}`
      );
    },
  },
  { what: 'returns: precision / recall', goal: '', of: (a) => returnsLine(fresh(a)) },
  {
    what: 'tuning, mean error in cents',
    goal: '',
    of: (a) =>
      mean(
        fresh(a).map((j) => j.cents && Math.abs(j.cents)),
        1,
      ),
  },
  {
    what: 'key score',
    goal: '',
    of: (a) =>
      mean(
        fresh(a).map((j) => j.key),
        2,
      ),
  },
  {
    what: 'seconds for a minute of audio',
    goal: '0.6',
    of: (a) => {
      const took = a.reduce((sum, one) => sum + one.took, 0);
      const heard = a.reduce((sum, one) => sum + one.seconds, 0);
      return heard > 0 ? ((60 * took) / heard).toFixed(2) : '';
    },
  },
];

/** Markdown: a row for each measure, a column for each listener, goals beside. */
export function tableOf(results: ReadonlyMap<string, readonly Judged[]>): string {
  const names = [...results.keys()];
  const rows = lines.map((line) => [
    line.what,
    line.goal,
    ...names.map((name) => line.of(results.get(name) ?? [])),
  ]);
  const all = [['', 'goal', ...names], ...rows];
  const widths = all[0].map((_, column) => Math.max(3, ...all.map((row) => row[column].length)));
  const text = all.map((row) => `| ${row.map((cell, i) => cell.padEnd(widths[i])).join(' | ')} |`);
  text.splice(1, 0, `| ${widths.map((width) => '-'.repeat(width)).join(' | ')} |`);
  return text.join('\n');
}
